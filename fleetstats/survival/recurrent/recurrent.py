"""Recurrent events: the mean number (or cost) per engine up to each age.

A cylinder change or an unscheduled visit can come again, so it is counted, not survived. The mean
cumulative function needs no model: at each age the events seen are divided by the engines that
were watched there, whether they were watched from new, joined late or were lost for a while.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import AMOUNT, HOURS_ANY, LEVEL, counted, gate, one_of
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells.histories import Histories
from fleetstats.survival.counting.product_limit import read_steps
from fleetstats.survival.lives import HISTORIES
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.ids import id_order
from fleetstats.vocabulary.limits import FEWEST_EVENTS, LARGEST_SHARE


@value
class MeanCumulative(Value):
    """Mean cumulative number of events, or cost, per engine.

    Parameters
    ----------
    of : str
        ``"count"`` or ``"cost"``.
    hours : (m,) float
        Ages at which something happened, rising.
    mean : (m,) float
        Events (or money) per engine up to and with each of `hours`.
    std_error : (m,) float
        Robust standard error, engines as units.
    low, high : (m,) float
        Pointwise limits on the log scale, so that they stay above zero; NaN where the mean is not
        positive.
    at_risk : (m,) float
        Engines watched at each age.
    n_units, n_events : int
        Engines and events behind the curve.
    exposure_h : float
        Engine hours watched.
    level : float
        Two-sided confidence.
    supported_to_h : float
        Greatest hours at which at least `min_at_risk` engines were watched.
    last_h : float
        Greatest hours at which any engine was watched.
    """

    of: str
    _steps: ClassVar[float | None] = 0.0

    hours: Floats
    mean: Floats
    std_error: Floats
    low: Floats
    high: Floats
    at_risk: Floats
    n_units: int
    n_events: int
    exposure_h: float
    level: float
    supported_to_h: float
    last_h: float
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        if not len(self.hours):
            return f"Mean cumulative {self.of}: no events over {self.exposure_h:,.0f} h"
        return (
            f"Mean cumulative {self.of}: {self.mean[-1]:.3g} per engine by {self.hours[-1]:,.0f} h "
            f"({self.low[-1]:.3g} to {self.high[-1]:.3g}, {100 * self.level:g} %), "
            f"{self.n_events} events on {self.n_units} engines"
        )

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return the mean at each of `hours`; 0 before the first event.

        NaN beyond `last_h`, where nobody was watched; from `supported_to_h` on few were.
        """
        return self._read(self.mean, 0.0, hours)

    @gate(hours=HOURS_ANY)
    def std_error_at(self, hours: ArrayLike) -> Array:
        """Return the standard error at each of `hours`; 0 before the first event."""
        return self._read(self.std_error, 0.0, hours)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the limits at each of `hours`; NaN before the first event."""
        return self._read(self.low, np.nan, hours), self._read(self.high, np.nan, hours)

    def _read(self, column: Array, first: float, hours: ArrayLike) -> Array:
        return read_steps(self.hours, column, first, hours, 0.0, self.last_h)


def _z(level: float) -> float:
    from scipy import special

    return float(special.ndtri(0.5 + 0.5 * level))


@gate(histories=HISTORIES, level=LEVEL, of=one_of("count", "cost"), min_at_risk=AMOUNT)
def estimate_mean_cumulative(
    histories: Histories, *, level: float = 0.90, of: str = "count", min_at_risk: float = 10.0
) -> MeanCumulative:
    """Return the mean cumulative function with robust limits.

    Parameters
    ----------
    histories : Histories
        Stretches under observation and the events in them.
    level : float
        Two-sided confidence.
    of : {"count", "cost"}
        What is added up.
    min_at_risk : float
        Engines watched below which the curve counts as unsupported.

    Returns
    -------
    MeanCumulative
        Empty columns where no event was seen.

    Raises
    ------
    FitError
        If no engine was watched at all.

    Notes
    -----
    ``M(t) = sum over t_k <= t of d_k / Y(t_k)`` with ``Y`` the engines under observation. Its
    variance adds up, over engines, the squares of each engine's own departure from the mean, so
    events that cluster on one engine widen it.

    References
    ----------
    .. [1] Nelson, W. (1995). Confidence limits for recurrence data. Technometrics 37, 147-157.
    .. [2] Lawless, J. F. and Nadeau, C. (1995). Some simple robust methods for the analysis of
       recurrent events. Technometrics 37, 158-168, section 2.

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbc"), [100, 700, 300, 500, 90]
    ... )
    >>> curve = fs.estimate_mean_cumulative(seen, min_at_risk=1)
    >>> curve.at([200, 600]).round(3)
    array([0.667, 1.333])
    """
    if not len(histories.unit):
        raise FitError("No engine was watched.", "Recurrent events need hours under observation.")
    size = np.ones(len(histories.event_h)) if of == "count" else histories.event_cost
    hours, place = np.unique(histories.event_h, return_inverse=True)
    total = np.bincount(place, weights=size, minlength=len(hours))
    at_risk = histories.observed(hours).astype(float)
    step = total / at_risk if len(hours) else np.zeros(0)
    mean = np.cumsum(step)
    se = np.sqrt(_robust_variance(histories, hours, place, size, step, at_risk))
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.exp(np.where(mean > 0, _z(level) * se / mean, np.nan))
    ends = np.unique(histories.end_h)
    enough = ends[histories.observed(ends) >= min_at_risk]
    return MeanCumulative(
        of=of,
        hours=hours,
        mean=mean,
        std_error=se,
        low=mean / spread,
        high=mean * spread,
        at_risk=at_risk,
        n_units=len(histories.engines[0]),
        n_events=len(histories.event_h),
        exposure_h=histories.exposure_h,
        level=level,
        supported_to_h=float(enough[-1]) if len(enough) else 0.0,
        last_h=float(ends[-1]),
        cautions=_cautions(histories),
    )


def _robust_variance(
    histories: Histories, hours: Array, place: Array, size: Array, step: Array, at_risk: Array
) -> Array:
    """Sum over engines of (sum_k Y_i(t_k)/Y(t_k) (n_i(t_k) - dM(t_k)))^2, in one pass.

    Being watched between two ages takes off the mean's step there: D, a running sum of
    step / at_risk. So an engine's departure is B - D while it is watched and B while it is not,
    with B changing only where it has an event or a stretch begins or ends. The sum of squares is
    then P - 2 D Q + D^2 n, with P the sum of B^2 over all, Q that of B over the n engines watched.
    """
    m = len(hours)
    if m == 0:
        return np.zeros(0)
    _, unit, event_unit = histories.engines
    drop = np.concatenate([[0.0], np.cumsum(step / at_risk)])
    first = np.searchsorted(hours, histories.start_h, side="right")
    past = np.searchsorted(hours, histories.end_h, side="right")
    seen = past > first  # a stretch that no event age lies in changes nothing
    unit, first, past = unit[seen], first[seen], past[seen]
    who = np.concatenate([unit, unit, event_unit])
    at = np.concatenate([past, first, place])
    rise = np.concatenate([-drop[past], drop[first], size / at_risk[place]])
    watched = np.repeat([-1, 1, 0], [len(unit), len(unit), len(place)])
    # at one age of one engine: the end of a stretch, then the start of the next, then events
    order = np.lexsort((np.repeat([0, 1, 2], [len(unit), len(unit), len(place)]), at, who))
    who, at, rise, watched = who[order], at[order], rise[order], watched[order]
    new = np.concatenate([[True], who[1:] != who[:-1]])
    after = _running(rise.astype(np.longdouble), new)
    on = _running(watched, new)
    before = np.where(new, 0.0, np.roll(after, 1))
    off = on - watched
    p, q = (
        np.cumsum(np.bincount(at, weights=x.astype(np.float64), minlength=m + 1)[:m])
        for x in (after**2 - before**2, on * after - off * before)
    )
    out = p - 2.0 * drop[1:] * q + drop[1:] ** 2 * at_risk
    return np.asarray(np.maximum(out, 0.0))


def _running(x: Array, new: Array) -> Array:
    """Return the running sum of `x` (n,) within each run that begins where `new` (n,) is true."""
    total = np.cumsum(x)
    starts = np.flatnonzero(new)
    return np.asarray(total - np.repeat((total - x)[starts], np.diff(starts, append=len(x))))


def _cautions(histories: Histories) -> tuple[Caution, ...]:
    n = len(histories.event_h)
    out = []
    if n < FEWEST_EVENTS:
        out.append(
            caution("few-failures/events", value=f"{n} events", limit=f"{FEWEST_EVENTS} events")
        )
    if n:
        counts = np.sort(np.bincount(histories.engines[2]))[::-1]
        share = float(counts[:2].sum()) / n
        if n >= FEWEST_EVENTS and share > LARGEST_SHARE:
            out.append(
                caution(
                    "one-unit/events",
                    value=f"{100 * share:.0f} % of events on the two worst engines",
                    limit=f"{100 * LARGEST_SHARE:.0f} %",
                )
            )
    return tuple(out)


@gate(histories=HISTORIES, n=counted())
def worst_engines(histories: Histories, n: int = 5) -> tuple[tuple[str, int, float, float], ...]:
    """Return up to `n` engines with most events: name, events, cost, hours watched.

    Parameters
    ----------
    histories : Histories
        Stretches and events.
    n : int
        Engines at most.

    Returns
    -------
    tuple of (str, int, float, float)
        Name, events, their cost and hours watched; the most events first.

    References
    ----------
    Counting alone, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbc"), [100, 700, 300, 500, 90]
    ... )
    >>> fs.worst_engines(seen, 2)
    (('a', 2, 2.0, 900.0), ('b', 2, 2.0, 800.0))
    """
    names = np.unique(histories.unit)
    where = np.searchsorted(names, histories.event_unit)
    count = np.bincount(where, minlength=len(names))
    cost = np.bincount(where, weights=histories.event_cost, minlength=len(names))
    watched = np.bincount(
        np.searchsorted(names, histories.unit),
        weights=histories.end_h - histories.start_h,
        minlength=len(names),
    )
    ids = np.array([id_order(str(name)) for name in names], dtype=np.str_)
    order = np.lexsort((ids, -cost, -count))[:n]
    return tuple(
        (str(names[i]), int(count[i]), float(cost[i]), float(watched[i]))
        for i in order
        if count[i] > 0
    )
