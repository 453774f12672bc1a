"""Trend tests: is the pace of recurrent events constant with hours?"""

from __future__ import annotations

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import counted, gate, one_of
from fleetstats.core.value import Value, value
from fleetstats.spells.histories import Histories
from fleetstats.survival.lives import HISTORIES
from fleetstats.survival.recurrent.power_law import watched

STEADY_P = 0.05
"""Probability below which a trend is called shown; a convention, printed beside the p-values."""


@value
class TrendTests(Value):
    """Tests of a constant pace of events.

    Parameters
    ----------
    laplace_u, laplace_p : float
        Normal score; above 0 when events crowd late in the watch. Two-sided p-value.
    robust_u, robust_p : float or None
        The same with each system as one unit (needs three systems or more): it holds when systems
        differ in pace or events cluster.
    handbook_statistic : float
        ``2 sum log(T/t)``, chi-square with `handbook_df` under a constant pace; small when events
        crowd late.
    handbook_p : float
        Two-sided p-value.
    n_systems, n_events : int
    direction : str
        ``"faster"``, ``"slower"``, ``"steady"`` (not shown to change) or ``"too-few"``.
    note : str
        What the tests rest on beyond the textbook case; empty when nothing.
    """

    laplace_u: float
    laplace_p: float
    robust_u: float | None
    robust_p: float | None
    handbook_statistic: float
    handbook_df: int
    handbook_p: float
    n_systems: int
    n_events: int
    direction: str
    note: str = ""

    def __repr__(self) -> str:
        return (
            f"Trend: {self.direction}; Laplace u {self.laplace_u:.2f} (p {self.laplace_p:.3f}), "
            f"handbook {self.handbook_statistic:.1f} on {self.handbook_df} "
            f"(p {self.handbook_p:.3f})"
        )


@gate(histories=HISTORIES, terminated=one_of("time", "failure"), fewest=counted())
def estimate_trend(
    histories: Histories, *, terminated: str = "time", fewest: int = 5
) -> TrendTests:
    """Test whether events come faster or slower as hours go by.

    Parameters
    ----------
    histories : Histories
        Stretches and events. Late entry and gaps are allowed: given their number, events under a
        constant pace are uniform within each stretch.
    terminated : {"time", "failure"}
        As in `fit_power_law`.
    fewest : int
        Events below which the direction is ``"too-few"``.

    Returns
    -------
    TrendTests
        Scores and p-values of three tests, and the direction that they agree on.

    Raises
    ------
    FitError
        With no event to test.

    Notes
    -----
    The direction needs Laplace and handbook test to agree in sign and one of them, and with three
    systems or more the robust one too, to have a p-value under 0.05.

    References
    ----------
    .. [1] Cox, D. R. and Lewis, P. A. W. (1966). The Statistical Analysis of Series of Events,
       chapter 3 (Laplace).
    .. [2] MIL-HDBK-189 (1981), the chi-square test of a constant rate.
    .. [3] Lawless, J. F., Cigsar, C. and Cook, R. J. (2012). Testing for monotone trend in
       recurrent event processes. Technometrics 54, 147-158 (the robust form).

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbcc"), [100, 700, 300, 500, 90, 640]
    ... )
    >>> print(fs.estimate_trend(seen))
    Trend: steady; Laplace u -0.51 (p 0.609), handbook 13.3 on 12 (p 0.695)
    """
    from scipy import special

    w = watched(histories, terminated)
    # An event at the very end of a watch ended it, so it says nothing of the pace before.
    used = w.event < w.event_end
    m = int(used.sum())
    if m == 0:
        raise FitError(
            "There is no event to test for a trend.", "A trend needs at least one event."
        )
    start, end, t = w.event_start[used], w.event_end[used], w.event[used]
    departure = t - 0.5 * (start + end)
    u = float(departure.sum() / np.sqrt(((end - start) ** 2 / 12.0).sum()))
    statistic = float(2.0 * np.log((end - start) / (t - start)).sum())
    lower = float(special.chdtr(2 * m, statistic))
    p_handbook = min(1.0, 2.0 * min(lower, 1.0 - lower))
    per_system = np.bincount(
        np.unique(histories.event_unit, return_inverse=True)[1][used], weights=departure
    )
    robust = None
    if len(per_system) >= 3:
        spread = float(np.sqrt(np.square(per_system).sum()))
        robust = float(per_system.sum()) / spread if spread > 0 else 0.0
    p_laplace = _two_sided(u)
    p_robust = None if robust is None else _two_sided(robust)
    direction = "steady"
    # A small handbook statistic and a positive Laplace score both say: late in the watch.
    agree = (u > 0) == (lower < 0.5)
    if m < fewest:
        direction = "too-few"
    elif (
        agree
        and min(p_laplace, p_handbook) < STEADY_P
        and (p_robust is None or p_robust < STEADY_P)
    ):
        direction = "faster" if u > 0 else "slower"
    return TrendTests(
        laplace_u=u,
        laplace_p=p_laplace,
        robust_u=robust,
        robust_p=p_robust,
        handbook_statistic=statistic,
        handbook_df=2 * m,
        handbook_p=p_handbook,
        n_systems=w.n_systems,
        n_events=m,
        direction=direction,
        note="" if w.from_zero else "Hours are counted from the start of each stretch watched.",
    )


def _two_sided(score: float) -> float:
    from scipy import special

    return float(2.0 * special.ndtr(-abs(score)))
