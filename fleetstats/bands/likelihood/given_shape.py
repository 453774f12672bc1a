"""What an assumed shape lets few or no failures say: the closed-form bound.

With r failures and exposure ``A(b) = sum(exit^b - entry^b)`` the cumulative hazard at 1 h is, with
confidence C, at most ``chi2(C; 2 r + 2) / (2 A)``, so the scale is at least
``(2 A / chi2(C; 2 r + 2)) ** (1 / b)``. IEC 61649:2008 and Meeker, Escobar & Pascual 2021
describe it; for r = 0 and one common age it is the success run ``n = ln(1 - C) / ln R``. It is
exact for a true shape and a stop at a set exposure, and conservative for a stop at set ages.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value, frozen_array
from fleetstats.spells.spells import Spells


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class ShapeBound(Value):
    """A one-sided lower bound of the scale, given the shape.

    Parameters
    ----------
    shape : float
        Assumed, not fitted.
    exposure_power : float
        Sum of ``exit^shape - entry^shape`` over spells, in hours to the power of the shape.
    n_failed : float
    confidence : float
        One-sided, in (0, 1).
    scale_low_h : float
        Lower bound of the scale in hours.
    """

    shape: float
    exposure_power: float
    n_failed: float
    confidence: float
    scale_low_h: float

    def reliability_low(self, hours: ArrayLike) -> Array:
        """Return the lower bound of the chance of reaching `hours` (m,)."""
        t = np.asarray(hours, dtype=np.float64)
        return np.asarray(np.exp(-((t / self.scale_low_h) ** self.shape)))

    def failure_high(self, hours: ArrayLike) -> Array:
        """Return the upper bound of the share failed by `hours` (m,)."""
        t = np.asarray(hours, dtype=np.float64)
        return np.asarray(-np.expm1(-((t / self.scale_low_h) ** self.shape)))

    def conditional_high(self, hours: ArrayLike, width_h: float) -> Array:
        """Return the upper bound of the chance of failing within `width_h` after `hours` (m,)."""
        t = np.asarray(hours, dtype=np.float64) / self.scale_low_h
        rise = (t + width_h / self.scale_low_h) ** self.shape - t**self.shape
        return np.asarray(-np.expm1(-rise))

    def life_low(self, p: float) -> float:
        """Return the lower bound, in hours, of the age by which a share `p` has failed."""
        return float(self.scale_low_h * (-np.log1p(-p)) ** (1.0 / self.shape))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class ShapeTable(Value):
    """Bounds over a range of assumed shapes, with the least favourable marked.

    Parameters
    ----------
    shapes : (s,) float
    hours : (m,) float
        Ages asked about.
    failure_high : (s, m) float
        Upper bounds of the share failed.
    life_low_h : (s,) float
        Lower bounds of the age by which a share `p` has failed.
    p, confidence, n_failed : float
    least_favourable : (m,) int
        For each age, the row whose bound is worst.
    least_favourable_life : int
        The row whose life is shortest.
    """

    shapes: Array
    hours: Array
    failure_high: Array
    life_low_h: Array
    p: float
    confidence: float
    n_failed: float
    least_favourable: Array
    least_favourable_life: int
    bounds: tuple[ShapeBound, ...]

    def __post_init__(self) -> None:
        for f in ("shapes", "hours", "life_low_h"):
            object.__setattr__(self, f, frozen_array(getattr(self, f)))
        object.__setattr__(self, "failure_high", frozen_array(self.failure_high, ndim=2))
        object.__setattr__(self, "least_favourable", frozen_array(self.least_favourable, np.int64))


def bound_given_shape(spells: Spells, shape: float, *, confidence: float) -> ShapeBound:
    """Bound the scale from below for an assumed shape; works from zero failures on.

    A failure known to lie in an interval counts as a failure with exposure to the interval's lower
    end, which can only make the bound lower.

    Parameters
    ----------
    spells : Spells
        The lives; any number of failures.
    shape : float
        Assumed Weibull shape, positive.
    confidence : float
        One-sided, in (0, 1); 0.95 belongs to a two-sided level of 0.90.

    Raises
    ------
    BandError
        If shape or confidence is out of range, or no exposure is left.

    References
    ----------
    IEC 61649:2008, few failures with assumed shape; Meeker, Escobar & Pascual 2021, chapter on
    planning and zero failures. The chi-square quantile is twice the gamma quantile at r + 1.
    """
    from scipy.special import gammaincinv

    if not 0.0 < shape < np.inf:
        raise BandError(f"Assumed shape is {shape}.", "It must be positive and finite.")
    if not 0.0 < confidence < 1.0:
        raise BandError(f"Confidence is {confidence}.", "It must lie between 0 and 1.")
    oldest = spells.oldest_h
    stop = np.where(spells.interval_known, spells.exit_lower, spells.exit_upper)
    x, e = stop / max(oldest, np.finfo(float).tiny), spells.entry / max(oldest, 1e-300)
    power = float((spells.weight * (x**shape - e**shape)).sum())
    if not power > 0.0:
        raise BandError(
            "These spells hold no exposure.", "At least one engine must have run under observation."
        )
    most = float(gammaincinv(spells.n_failed + 1.0, confidence))
    with np.errstate(over="ignore"):
        exposure = power * float(np.float64(oldest) ** shape)
    return ShapeBound(
        shape=float(shape),
        exposure_power=exposure,
        n_failed=spells.n_failed,
        confidence=float(confidence),
        scale_low_h=oldest * (power / most) ** (1.0 / shape),
    )


def bounds_over_shapes(
    spells: Spells,
    shapes: ArrayLike,
    *,
    confidence: float,
    hours: ArrayLike,
    p: float = 0.10,
) -> ShapeTable:
    """Bound the share failed at `hours` (m,) for each of `shapes` (s,); the worst is marked.

    A shape above the truth is favourable below the observed ages and unfavourable beyond them, and
    the other way about, so neither end of the range is the safe one.

    Raises
    ------
    BandError
        As `bound_given_shape`.
    """
    b = np.atleast_1d(np.asarray(shapes, dtype=np.float64))
    t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
    bounds = tuple(bound_given_shape(spells, float(v), confidence=confidence) for v in b)
    high = np.array([v.failure_high(t) for v in bounds])
    life = np.array([v.life_low(p) for v in bounds])
    return ShapeTable(
        shapes=b,
        hours=t,
        failure_high=high,
        life_low_h=life,
        p=p,
        confidence=confidence,
        n_failed=spells.n_failed,
        least_favourable=np.argmax(high, axis=0),
        least_favourable_life=int(np.argmin(life)),
        bounds=bounds,
    )
