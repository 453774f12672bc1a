"""Bands that hold for a whole product-limit curve at once, with the stated confidence.

Pointwise limits hold at one age named beforehand; these hold at every age of a range together, so
they are what a claim about "the curve" needs.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import AMOUNT, HOURS, HOURS_ANY, LEVEL, gate, one_of
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.brownian_bounds import critical_bridge, critical_scaled_bridge
from fleetstats.survival.counting.product_limit import (
    StepCurve,
    ends,
    estimate_product_limit,
    read_steps,
)
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.limits import LEAST_AT_RISK

METHODS = ("equal-precision", "hall-wellner")
TRANSFORMS = ("log-log", "arcsine", "linear")


@value
class SimultaneousBand(Value):
    """A product-limit curve with edges that hold together over a range of ages.

    Parameters
    ----------
    method : str
        ``"equal-precision"`` or ``"hall-wellner"``.
    transform : str
        Scale on which the edges lie evenly about the curve.
    hours : (m,) float
        `from_h`, then the failure ages up to `to_h`; the edges step there.
    estimate, low, high : (m,) float
        Reliability and its edges just after each age.
    level : float
        Confidence that the whole curve from `from_h` to `to_h` lies between the edges.
    from_h, to_h : float
        The range, in hours.
    start_h : float
        Reliability is of lives that reach this age.
    critical : float
        Bound of the limiting process; a pointwise limit has the normal quantile in its place.
    share_from, share_to : float
        The range on the scale of the limiting bridge: ``n v / (1 + n v)`` with v the sum of
        Greenwood at each end and n the lives in sight.
    n : float
        Weighted lives followed past `start_h`.
    """

    method: str
    transform: str
    _steps: ClassVar[float | None] = 1.0

    hours: Floats
    estimate: Floats
    low: Floats
    high: Floats
    level: float
    from_h: float
    to_h: float
    start_h: float
    critical: float
    share_from: float
    share_to: float
    n: float

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return reliability at each of `hours`; NaN outside the range."""
        return self._read(self.estimate, hours)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the edges at each of `hours`; NaN outside the range."""
        return self._read(self.low, hours), self._read(self.high, hours)

    def _read(self, column: Array, hours: ArrayLike) -> Array:
        return read_steps(self.hours, column, np.nan, hours, self.from_h, self.to_h)

    def __repr__(self) -> str:
        return (
            f"Reliability from {text_hours(self.from_h)} to {text_hours(self.to_h)}, whole curve "
            f"{100 * self.level:g} % ({self.method}, {self.transform}): "
            f"{self.estimate[-1]:.3f} ({self.low[-1]:.3f} to {self.high[-1]:.3f}) at the end"
        )


@gate(
    spells=LIVES,
    method=one_of(*METHODS),
    level=LEVEL,
    from_h=HOURS.or_none,
    to_h=HOURS.or_none,
    transform=one_of(*TRANSFORMS),
    least_at_risk=AMOUNT,
)
def estimate_simultaneous_band(
    spells: Spells,
    *,
    method: str = "equal-precision",
    level: float = 0.90,
    from_h: float | None = None,
    to_h: float | None = None,
    transform: str = "log-log",
    least_at_risk: float = LEAST_AT_RISK,
) -> SimultaneousBand:
    """Estimate reliability with edges that hold for the whole curve over a range.

    Parameters
    ----------
    spells : Spells
        Delayed entry is allowed, see the notes.
    method : {"equal-precision", "hall-wellner"}
        The first keeps the width of the pointwise limits, all wider by one factor; the second is
        narrower in the middle of the curve and wider at its ends.
    level : float
        Confidence for the whole range.
    from_h, to_h : float or None
        The range in hours; by default from the first failure to the last age with lives left.
    transform : {"log-log", "arcsine", "linear"}
        Scale of the edges; the first two keep within 0 and 1 and hold better with few failures.
    least_at_risk : float
        As for `estimate_product_limit`.

    Returns
    -------
    SimultaneousBand

    Raises
    ------
    ArgumentError
        If a word, the level or an age is none that there is.
    FitError
        If nothing failed in the range, or the range is out of sight.

    Notes
    -----
    How the critical values are held is told at the head of `brownian_bounds.py`.

    ``(S^ - S) / S`` behaves as a Brownian motion in Greenwood's sum v; ``u = n v / (1 + n v)``
    turns it into a bridge for any positive n. With every life followed from new, n is their
    number, as published. With delayed entry there is no such number; n is here the weighted lives
    followed past `start_h`. The equal-precision edges do not depend on n at all; Hall and Wellner's
    then hold as well, but where they are narrowest moves with it.

    References
    ----------
    .. [1] Nair, V. N. (1984). Confidence bands for survival functions with censored data.
       Technometrics 26, 265-275.
    .. [2] Hall, W. J. and Wellner, J. A. (1980). Confidence bands for a survival curve from
       censored data. Biometrika 67, 133-143.
    .. [3] Borgan, O. and Liestol, K. (1990). A note on confidence intervals and bands for the
       survival function based on transformations. Scand. J. Statist. 17, 35-41.
    .. [4] Klein, J. P. and Moeschberger, M. L. (2003). Survival Analysis, section 4.4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.survival.counting.simultaneous import estimate_simultaneous_band
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 3 == 0 for k in range(30)])
    >>> band = estimate_simultaneous_band(lives, level=0.90)
    >>> [x.round(2).tolist() for x in (band.at([400, 900]), *band.limits_at([400, 900]))]
    [[0.89, 0.75], [0.55, 0.38], [0.98, 0.92]]
    """
    curve = estimate_product_limit(spells, level=level, least_at_risk=least_at_risk)
    first, last = _range(curve, from_h, to_h)
    inside = (curve.hours > first) & (curve.hours <= last)
    hours = np.concatenate([[first], curve.hours[inside]])
    estimate = curve.at(hours)
    spread = curve.std_error_at(hours) / estimate
    n = float(spells.weight[ends(spells) > curve.start_h].sum())
    share = n * spread**2 / (1.0 + n * spread**2)
    if method == "equal-precision":
        critical = critical_scaled_bridge(level, float(share[0]), float(share[-1]))
        width = critical * spread
    else:
        critical = critical_bridge(level, float(share[0]), float(share[-1]))
        width = critical * (1.0 + n * spread**2) / np.sqrt(n)
    low, high = _edges(estimate, width, transform)
    return SimultaneousBand(
        method=method,
        transform=transform,
        hours=hours,
        estimate=estimate,
        low=low,
        high=high,
        level=level,
        from_h=first,
        to_h=last,
        start_h=curve.start_h,
        critical=critical,
        share_from=float(share[0]),
        share_to=float(share[-1]),
        n=n,
    )


def _range(curve: StepCurve, from_h: float | None, to_h: float | None) -> tuple[float, float]:
    """Return the range, both ends checked: the curve strictly between 1 and 0 at each."""
    alive = curve.hours[curve.reliability > 0.0]
    if not len(alive):
        raise FitError(
            "No failure with lives left after it, so no curve to put a band around.",
            "Use limits of a single reliability.",
        )
    gone = len(alive) < len(curve.hours)
    latest = float(np.nextafter(curve.hours[len(alive)], 0.0)) if gone else curve.oldest_h
    first = float(alive[0]) if from_h is None else float(from_h)
    last = float(alive[-1]) if to_h is None else float(to_h)
    if not float(alive[0]) <= first < last <= latest or not (alive > first).any():
        raise FitError(
            f"No band from {first:g} h to {last:g} h: the curve is between 1 and 0 from "
            f"{alive[0]:g} h to {latest:g} h.",
            "Use a range inside it that holds failures at two ages.",
        )
    if float(alive[alive > first][0]) > last:
        raise FitError(
            f"Nothing failed between {first:g} h and {last:g} h.",
            "Use a range that holds failures at two ages.",
        )
    return first, last


def _edges(estimate: Array, width: Array, transform: str) -> tuple[Array, Array]:
    """Return edges of reliability, with `width` that of the relative error of the curve."""
    if transform == "linear":
        return np.maximum(estimate * (1.0 - width), 0.0), np.minimum(estimate * (1.0 + width), 1.0)
    if transform == "arcsine":
        middle = np.arcsin(np.sqrt(estimate))
        half = 0.5 * width * np.sqrt(estimate / (1.0 - estimate))
        low = np.sin(np.maximum(middle - half, 0.0)) ** 2
        return low, np.sin(np.minimum(middle + half, 0.5 * np.pi)) ** 2
    log_r = np.log(estimate)
    factor = np.exp(width / np.abs(log_r))
    return np.exp(log_r * factor), np.exp(log_r / factor)
