"""The share of lives still going at each age, by counting alone: no family is assumed.

Product limit: Kaplan & Meier (1958), with delayed entry as in Klein & Moeschberger (2003), section
4.6; variance by Greenwood (1926); limits on log(-log R) (Kalbfleisch & Prentice 2002, section 1.4).
Cumulative hazard: Nelson (1972), Aalen (1978).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import AMOUNT, HOURS_ANY, LEVEL, gate
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Floats, Value, as_asked, value
from fleetstats.spells import Spells
from fleetstats.spells.column_checks import each_is_one, weight_reaching
from fleetstats.survival.counting.ones import first_of_so_many, tally_ones
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import LEAST_AT_RISK


@dataclass(frozen=True, slots=True)
class RiskTable:
    """At each failure age: failures and lives at risk, both weighted."""

    hours: Array
    n_failed: Array
    at_risk: Array


def count_at_risk(spells: Spells, *, start_h: float = 0.0) -> RiskTable:
    """Count failures and lives at risk (``entry < t <= exit``) at each failure age past `start_h`.

    A failure only known to lie in an interval is counted at its middle.
    """
    end = ends(spells)
    if each_is_one(spells.weight):
        return RiskTable(*tally_ones(spells.entry, end, spells.failed, start_h))
    dead = spells.failed & (end > start_h)
    hours, place = np.unique(end[dead], return_inverse=True)
    n_failed = np.bincount(place.ravel(), weights=spells.weight[dead], minlength=len(hours))
    return RiskTable(
        hours=hours,
        n_failed=n_failed,
        at_risk=lives_at_risk(spells, hours),
    )


def lives_at_risk(spells: Spells, hours: Array) -> Array:
    """Return (m,) weighted lives with ``entry < t <= end`` at each of `hours`.

    As at failure ages: a failure only known to lie in an interval ends at its middle.
    """
    end = ends(spells)
    w = spells.weight
    return weight_reaching(end, w, hours) - weight_reaching(spells.entry, w, hours)


def ends(spells: Spells) -> Array:
    """Return (n,) hours of the end; the middle of the interval for an interval-known failure."""
    if spells.exit_lower is spells.exit_upper:
        return spells.exit_upper
    return np.asarray(0.5 * (spells.exit_lower + spells.exit_upper))


def first_well_populated(spells: Spells, least: float) -> float | None:
    """Return the least hours just after which `least` lives were at risk; None if never."""
    # Tolerance for weights that are not whole numbers.
    least *= 1.0 - 1e-12
    if not spells.entry.any():
        return 0.0 if spells.weight.sum() >= least else None
    end = ends(spells)
    if each_is_one(spells.weight):
        return first_of_so_many(spells.entry, end, least)
    starts = np.unique(spells.entry)
    entered = _up_to(spells.entry, spells.weight, starts)
    left = _up_to(end, spells.weight, starts)
    enough = entered - left >= least
    return float(starts[np.argmax(enough)]) if enough.any() else None


def _up_to(ages: Array, weight: Array, hours: Array) -> Array:
    order = np.argsort(ages, kind="stable")
    head = np.concatenate([[0.0], np.cumsum(weight[order])])
    return np.asarray(head[np.searchsorted(ages[order], hours, side="right")])


def _normal(level: float) -> float:
    return NormalDist().inv_cdf(0.5 + 0.5 * level)


@value
class StepCurve(Value):
    """Product-limit estimate of reliability, stepping down at failure ages.

    Parameters
    ----------
    hours : (m,) float
        Distinct failure ages, rising.
    reliability, std_error : (m,) float
        Just after each age; standard error by Greenwood, NaN where the curve is 0.
    at_risk, n_failed : (m,) float
        Weighted counts at each age.
    low, high : (m,) float
        Pointwise two-sided limits at `level`; NaN where the curve is 0.
    level : float
        Two-sided confidence.
    start_h : float
        The curve is conditional on reaching this age.
    oldest_h : float
        Greatest age that any life reached; the curve is not defined beyond.
    cautions : tuple of Caution
        What limits its use.
    """

    _steps: ClassVar[float | None] = 1.0

    hours: Floats
    reliability: Floats
    std_error: Floats
    at_risk: Floats
    n_failed: Floats
    low: Floats
    high: Floats
    level: float
    start_h: float
    oldest_h: float
    cautions: tuple[Caution, ...] = ()

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return reliability at each of `hours`; NaN before `start_h` and past `oldest_h`."""
        return self._read(self.reliability, 1.0, hours)

    @gate(hours=HOURS_ANY)
    def std_error_at(self, hours: ArrayLike) -> Array:
        """Return the standard error at each of `hours`; 0 before the first failure."""
        return self._read(self.std_error, 0.0, hours)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the limits at each of `hours`; NaN before the first failure."""
        return self._read(self.low, np.nan, hours), self._read(self.high, np.nan, hours)

    def _read(self, column: Array, first: float, hours: ArrayLike) -> Array:
        return read_steps(self.hours, column, first, hours, self.start_h, self.oldest_h)

    def __repr__(self) -> str:
        start = "" if self.start_h == 0 else f", given survival to {text_hours(self.start_h)}"
        last = float(self.reliability[-1]) if len(self.hours) else 1.0
        return (
            f"Product limit: {self.n_failed.sum():g} failures at {len(self.hours)} ages{start}, "
            f"{last:.3f} at {text_hours(self.oldest_h)}"
        )


def read_steps(
    ages: Array, column: Array, first: float, hours: ArrayLike, start_h: float, oldest_h: float
) -> Array:
    """Return the value of a right-continuous step function at each of `hours`."""
    t = np.asarray(hours, dtype=np.float64)
    out = np.concatenate([[first], column])[np.searchsorted(ages, t, side="right")]
    return as_asked(np.where((t < start_h) | (t > oldest_h), np.nan, out))


def _start(spells: Spells, least_at_risk: float) -> tuple[float, tuple[Caution, ...]]:
    if len(spells) == 0:
        raise FitError("There are no lives to count.", "Add records.")
    cautions: list[Caution] = []
    first = float(spells.entry.min())
    start = first_well_populated(spells, least_at_risk) if least_at_risk > 1 else 0.0
    if start is None:
        cautions.append(
            caution("thin-start", limit=f"{least_at_risk:g} at risk", least=least_at_risk)
        )
        start = first
    elif start > 0.0:
        cautions.append(
            caution(
                "late-entry/curve",
                value=text_hours(start),
                limit=f"{least_at_risk:g} at risk",
                start=text_hours(start),
            )
        )
    if spells.interval_known.any():
        n = float(spells.weight[spells.interval_known].sum())
        cautions.append(caution("interval-known", value=f"{n:g}", n=n))
    return start, tuple(cautions)


@gate(spells=LIVES, level=LEVEL, least_at_risk=AMOUNT)
def estimate_product_limit(
    spells: Spells, *, level: float = 0.90, least_at_risk: float = LEAST_AT_RISK
) -> StepCurve:
    """Estimate reliability at each failure age by the product limit, with delayed entry.

    Parameters
    ----------
    spells : Spells
        Endings other than the failure in question censor.
    level : float
        Two-sided confidence of the limits.
    least_at_risk : float
        The curve starts at the first age with so many at risk and is conditional on reaching it;
        1 starts it at 0 h whatever is there. With late entry and one or two at risk early on, one
        failure would send the whole curve to 0.

    Returns
    -------
    StepCurve
        Empty columns when nothing failed: reliability is then 1 as far as lives were seen.

    Raises
    ------
    FitError
        If there are no lives, or the level is outside 0 to 1.

    References
    ----------
    Kaplan & Meier (1958), J. Am. Stat. Assoc. 53, 457-481; late entry as in Klein & Moeschberger
    (2003), Survival Analysis, section 4.6; variance by Greenwood (1926); limits on log(-log R) as
    in Kalbfleisch & Prentice (2002), section 1.4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> curve = fs.estimate_product_limit(lives)
    >>> curve.at([500, 1000]).round(3).tolist()
    [0.833, 0.625]
    """
    z = _normal(level)
    start, cautions = _start(spells, least_at_risk)
    table = count_at_risk(spells, start_h=start)
    n, d = table.at_risk, table.n_failed
    left = np.maximum(n - d, 0.0)
    # A rest of rounding in sums of weights is no survivor.
    left[left < 1e-9 * n] = 0.0
    reliability = np.cumprod(left / n)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(np.cumsum(np.where(left > 0.0, d / (n * left), np.inf)))
        std_error = reliability * spread
        log_r = np.log(reliability)
        width = z * spread / np.abs(log_r)
        low, high = np.exp(log_r * np.exp(width)), np.exp(log_r * np.exp(-width))
    gone = reliability <= 0.0
    for column in (std_error, low, high):
        column[gone] = np.nan
    return StepCurve(
        hours=table.hours,
        reliability=reliability,
        std_error=std_error,
        at_risk=n,
        n_failed=d,
        low=low,
        high=high,
        level=level,
        start_h=start,
        oldest_h=spells.oldest_h,
        cautions=cautions,
    )


@value
class HazardCurve(Value):
    """Nelson-Aalen cumulative hazard; fields as in `StepCurve`.

    Limits are on the log scale (Klein & Moeschberger 2003, section 4.3).
    """

    _steps: ClassVar[float | None] = 0.0

    hours: Floats
    cumulative_hazard: Floats
    std_error: Floats
    at_risk: Floats
    n_failed: Floats
    low: Floats
    high: Floats
    level: float
    start_h: float
    oldest_h: float
    cautions: tuple[Caution, ...] = ()

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return the cumulative hazard at each of `hours`; NaN outside the ages seen."""
        return read_steps(
            self.hours, self.cumulative_hazard, 0.0, hours, self.start_h, self.oldest_h
        )

    @gate(hours=HOURS_ANY)
    def std_error_at(self, hours: ArrayLike) -> Array:
        """Return the standard error at each of `hours`; 0 before the first failure."""
        return read_steps(self.hours, self.std_error, 0.0, hours, self.start_h, self.oldest_h)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the limits at each of `hours`; NaN before the first failure."""
        low, high = (
            read_steps(self.hours, column, np.nan, hours, self.start_h, self.oldest_h)
            for column in (self.low, self.high)
        )
        return low, high

    def __repr__(self) -> str:
        last = float(self.cumulative_hazard[-1]) if len(self.hours) else 0.0
        return (
            f"Cumulative hazard: {self.n_failed.sum():g} failures at {len(self.hours)} ages, "
            f"{last:.3f} at {text_hours(self.oldest_h)}"
        )


@gate(spells=LIVES, level=LEVEL, least_at_risk=AMOUNT)
def estimate_cumulative_hazard(
    spells: Spells, *, level: float = 0.90, least_at_risk: float = LEAST_AT_RISK
) -> HazardCurve:
    """Estimate the cumulative hazard by Nelson and Aalen, with delayed entry.

    Parameters and errors as for `estimate_product_limit`; variance is the sum of d / Y^2.

    Parameters
    ----------
    spells : Spells
        Lives; endings other than the failure in question censor.
    level : float
        Two-sided confidence of the limits.
    least_at_risk : float
        As for `estimate_product_limit`.

    Returns
    -------
    HazardCurve
        Empty columns when nothing failed: the hazard is then 0 as far as lives were seen.

    Raises
    ------
    FitError
        If there are no lives.

    References
    ----------
    Nelson (1972), Technometrics 14, 945-966; Aalen (1978), Annals of Statistics 6, 701-726.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> curve = fs.estimate_cumulative_hazard(lives)
    >>> print(curve)
    Cumulative hazard: 6 failures at 6 ages, 1.878 at 1,300 h
    >>> round(float(curve.at(650)), 3)
    0.202
    """
    z = _normal(level)
    start, cautions = _start(spells, least_at_risk)
    table = count_at_risk(spells, start_h=start)
    n, d = table.at_risk, table.n_failed
    total = np.cumsum(d / n)
    std_error = np.sqrt(np.cumsum(d / n**2))
    factor = np.exp(z * std_error / total)
    return HazardCurve(
        hours=table.hours,
        cumulative_hazard=total,
        std_error=std_error,
        at_risk=n,
        n_failed=d,
        low=total / factor,
        high=total * factor,
        level=level,
        start_h=start,
        oldest_h=spells.oldest_h,
        cautions=cautions,
    )
