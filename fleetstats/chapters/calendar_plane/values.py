"""The plane of age and calendar, as values."""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array, Floats, Ints, Matrix, Texts, Value, value
from fleetstats.survival.counting.exposure import poisson_limits


@value
class PlaneCells(Value):
    """Hours at risk and failures of one label by age band and calendar year.

    Parameters
    ----------
    by : str
        "" for all lives; else "cause", "build" or "source".
    name : str
        The label; blank where it is not said.
    exposure_h, failures : (p, q) float
        Weighted hours and counts. For a cause the hours are those of all lives.
    level : float
        Two-sided confidence of the limits.
    """

    by: str
    name: str
    exposure_h: Matrix
    failures: Matrix
    level: float

    @property
    def rate_per_h(self) -> Array:
        """Return (p, q) failures per hour; NaN without exposure."""
        return self._over(self.failures)

    @property
    def rate_limits_per_h(self) -> tuple[Array, Array]:
        """Return (p, q) exact Poisson limits of the rate (Garwood 1936); NaN without exposure."""
        low, high = poisson_limits(self.failures, level=self.level)
        return self._over(low), self._over(high)

    def _over(self, count: Array) -> Array:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(self.exposure_h > 0, count / self.exposure_h, np.nan))


@value
class YearLine(Value):
    """One calendar year.

    Parameters
    ----------
    year : int
    exposure_h, n_failed : float
    rate_per_h, low_per_h, high_per_h : float or None
        Failures per hour with exact limits; None without exposure.
    expected : float
        Failures if every age band had failed each year as over all years together.
    """

    year: int
    exposure_h: float
    n_failed: float
    rate_per_h: float | None
    low_per_h: float | None
    high_per_h: float | None
    expected: float


@value
class CalendarPlane(Value):
    """Hours at risk and failures by age band and calendar year, and the lives as lines.

    Parameters
    ----------
    hour_edges : (p + 1,) float
        Age bands, open below and closed above.
    years : (q,) int
        Calendar years.
    cells : tuple of PlaneCells
        All lives first; then each cause, build and source, where there is more than one.
    lines : tuple of YearLine
        The years, all ages together.
    entry_year, exit_year, entry_h, exit_h : (n,) float
        Ends of each life, days as decimal years.
    failed, open_days : (n,) float
        1 where the life ended in the failure in question, or one of its dates is missing.
    label : (n,) str
        Cause of the end.
    n_undated, undated_failed : int
        Lives that no date places, and failures in question among them; they are in no cell.
    level : float
    """

    hour_edges: Floats
    years: Ints
    cells: tuple[PlaneCells, ...]
    lines: tuple[YearLine, ...]
    entry_year: Floats
    exit_year: Floats
    entry_h: Floats
    exit_h: Floats
    failed: Floats
    open_days: Floats
    label: Texts
    n_undated: int
    undated_failed: int
    level: float
    sentence: str
