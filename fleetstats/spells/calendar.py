"""Lives by the calendar: the age in years at entry and at the end, beside the hours.

Low-time engines may be old. Corrosion and hardened seals go by the calendar, and an answer by hours
alone ranks such engines wrongly; this view shows whether the two clocks can be told
apart at all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Floats, Ints, Value, value
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.records.life import LifeRow
from fleetstats.spells.spells import Spells


@value
class CalendarAges(Value):
    """Lives whose dates are known, on both clocks.

    Parameters
    ----------
    spells : Spells
        The lives, in hours.
    entry_years, exit_years : (n,) float
        Age in years since the life began, at entry and at the end.
    row : (n,) int
        Number of each life among those asked about.
    n_undated : int
        Lives left out since a date is missing or the dates contradict each other.
    """

    spells: Spells
    entry_years: Floats
    exit_years: Floats
    row: Ints
    n_undated: int

    def __len__(self) -> int:
        return len(self.row)

    @property
    def by_years(self) -> Spells:
        """Return the lives with years in place of hours, for the same estimators.

        A failure known to lie between two hours keeps the years of its end: its onset has no date.
        """
        return self.spells.replace(
            entry=self.entry_years,
            exit_lower=self.exit_years,
            exit_upper=self.exit_years,
            assumed_h=np.zeros(len(self)),  # years end at the date of the last reading
        )

    @property
    def hours_per_year(self) -> Array:
        """Return (n,) use of each engine while it was watched."""
        s = self.spells
        return np.asarray((s.exit_upper - s.entry) / (self.exit_years - self.entry_years))

    @property
    def correlation(self) -> float | None:
        """Return the rank correlation of hours and years at the end; None below 3 lives.

        Near 1, the two clocks run together and these data cannot say which one ages engines.
        """
        n = len(self)
        if n < 3:
            return None
        a, b = self.spells.exit_upper, self.exit_years
        if np.ptp(a) == 0 or np.ptp(b) == 0:
            return None
        return float(np.corrcoef(_ranks(a), _ranks(b))[0, 1])

    def cross(self, hour_edges: ArrayLike, year_edges: ArrayLike) -> tuple[Array, Array]:
        """Return exposure in hours and failures by age in hours (rows) and in years (columns).

        Parameters
        ----------
        hour_edges : (p + 1,) float
            Rising hours.
        year_edges : (q + 1,) float
            Rising ages in years.

        Returns
        -------
        exposure_h, failures : (p, q) float
            An engine is taken to run evenly between its two ends, so that its life is a straight
            line in the plane of hours and years. Cells are open below and closed above.
        """
        hours = np.asarray(hour_edges, dtype=np.float64)
        years = np.asarray(year_edges, dtype=np.float64)
        s = self.spells
        shape = (len(hours) - 1, len(years) - 1)
        exposure, failures = np.zeros(shape), np.zeros(shape)
        run = s.exit_upper - s.entry
        slope = (self.exit_years - self.entry_years) / run
        for i in range(shape[0]):
            low = np.maximum(s.entry, hours[i])
            high = np.minimum(s.exit_upper, hours[i + 1])
            for j in range(shape[1]):
                # Hours at which the straight line crosses the two years.
                with np.errstate(divide="ignore", invalid="ignore"):
                    a = s.entry + (years[j] - self.entry_years) / slope
                    b = s.entry + (years[j + 1] - self.entry_years) / slope
                inside = np.minimum(high, b) - np.maximum(low, a)
                exposure[i, j] = float((s.weight * np.maximum(inside, 0.0)).sum())
                here = (s.exit_upper > hours[i]) & (s.exit_upper <= hours[i + 1])
                here &= (self.exit_years > years[j]) & (self.exit_years <= years[j + 1])
                failures[i, j] = float(s.weight[here & s.failed].sum())
        return exposure, failures


def _ranks(x: Array) -> Array:
    """Return ranks; equal values share their mean rank."""
    _, place, n = np.unique(x, return_inverse=True, return_counts=True)
    last = np.cumsum(n)
    return np.asarray((last - (n - 1) / 2.0)[place])


def build_calendar(rows: Sequence[LifeRow], spells: Spells) -> CalendarAges:
    """Put lives on the calendar beside their hours.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        The spells.

    Returns
    -------
    CalendarAges
        A life needs the date on which it began and that of its end; where it was not followed from
        its start, also the date of entry, else even use since its start is assumed up to entry.

    Raises
    ------
    SpellError
        If the two have different lengths.
    """
    if len(rows) != len(spells):
        raise SpellError(
            f"{len(rows)} rows stand beside {len(spells)} spells.", "Give the row of each spell."
        )
    keep: list[int] = []
    entry: list[float] = []
    exit_: list[float] = []
    for i, row in enumerate(rows):
        last = row.last_date
        if row.in_service is None or last is None or last <= row.in_service:
            continue
        age = (last - row.in_service).days / DAYS_PER_YEAR
        if row.entry_h <= 0:
            start = 0.0
        elif row.observed_from is not None:
            start = (row.observed_from - row.in_service).days / DAYS_PER_YEAR
        else:
            start = age * row.entry_h / row.exit_h
        if 0.0 <= start < age:
            keep.append(i)
            entry.append(start)
            exit_.append(age)
    at = np.array(keep, dtype=np.int64)
    return CalendarAges(
        spells=spells.select(at),
        entry_years=np.array(entry),
        exit_years=np.array(exit_),
        row=at,
        n_undated=len(rows) - len(keep),
    )
