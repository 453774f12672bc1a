"""From lives on the calendar to the cells of the plane."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from fleetstats.chapters.calendar_plane.values import CalendarPlane, PlaneCells, YearLine
from fleetstats.chapters.calendar_plane.words import say_plane
from fleetstats.chapters.chapter import Base
from fleetstats.core.value import Array
from fleetstats.spells.days.dated import Dated, build_dated
from fleetstats.spells.days.lexis import LABELS, split_by_labels
from fleetstats.survival.counting.exposure import choose_edges, poisson_limits

FEWEST_DATED = 10
"""Lives on the calendar below which the plane is not shown (common practice, no source)."""

MOST_BANDS = 6
"""Age bands of the plane: finer ones leave cells with hardly an hour."""


def dated_of(base: Base) -> Dated | None:
    """Return a study's lives on the calendar; None where no row of a life is at hand."""
    rows, until = base.built.rows, base.settings.study.analysis_date
    if not rows:
        return None
    return build_dated(rows, base.spells, until=until)


def chapter_plane(base: Base) -> CalendarPlane | None:
    """Return the plane of age and calendar; None below ten lives with dates."""
    dated = dated_of(base)
    if dated is None or len(dated) < FEWEST_DATED:
        return None
    failed_all = base.spells.n_failed - dated.spells.n_failed
    return make_plane(dated, level=base.settings.study.confidence, undated_failed=int(failed_all))


def make_plane(dated: Dated, *, level: float, undated_failed: int = 0) -> CalendarPlane:
    """Return hours at risk and failures by age band and calendar year.

    Parameters
    ----------
    dated : Dated
        The lives, at least one.
    level : float
        Two-sided confidence of the limits of rates.
    undated_failed : int
        Failures among the lives that no date places.
    """
    s = dated.spells
    first, last = dated.span
    years = np.arange(_year_of(first), _year_of(math.ceil(last)) + 1)
    day_edges = [float(_new_year(y)) - 1.0 for y in (*years, years[-1] + 1)]  # closed above
    hour_edges = choose_edges(s.oldest_h, most=MOST_BANDS)
    cells: list[PlaneCells] = []
    labels = ("", *LABELS)
    split = split_by_labels(dated, hour_edges, day_edges, labels)
    for by, (names, exposure, failures) in zip(labels, split, strict=True):
        if not by or len(names) > 1:
            cells += [
                PlaneCells(
                    by=by, name=name, exposure_h=exposure[k], failures=failures[k], level=level
                )
                for k, name in enumerate(names)
            ]
    lines = year_lines(years, cells[0])
    return CalendarPlane(
        hour_edges=hour_edges,
        years=years,
        cells=tuple(cells),
        lines=lines,
        entry_year=decimal_years(dated.entry_day),
        exit_year=decimal_years(dated.exit_day),
        entry_h=s.entry,
        exit_h=s.exit_upper,
        failed=s.failed,
        open_days=~dated.exactly_dated,
        label=s.cause,
        n_undated=dated.n_undated,
        undated_failed=undated_failed,
        level=level,
        sentence=say_plane(lines, float(s.weight.sum()), dated.n_undated, undated_failed),
    )


def year_lines(years: Array, whole: PlaneCells) -> tuple[YearLine, ...]:
    """Return each year with its rate, limits, and the failures expected at equal age."""
    exposure, failed = whole.exposure_h.sum(axis=0), whole.failures.sum(axis=0)
    of_band = whole.exposure_h.sum(axis=1)
    rate = np.divide(
        whole.failures.sum(axis=1), of_band, out=np.zeros(len(of_band)), where=of_band > 0
    )
    expected = rate @ whole.exposure_h
    low, high = poisson_limits(failed, level=whole.level)
    out = []
    for j, year in enumerate(years.tolist()):
        h = float(exposure[j])
        rates = [float(x) / h if h > 0 else None for x in (failed[j], low[j], high[j])]
        out.append(
            YearLine(
                year=year, exposure_h=h, n_failed=float(failed[j]), rate_per_h=rates[0],
                low_per_h=rates[1], high_per_h=rates[2], expected=float(expected[j]),
            )
        )  # fmt: skip
    return tuple(out)


def decimal_years(days: Array) -> Array:
    """Return ordinal days as decimal years, each year as long as its days."""
    if not len(days):
        return np.zeros(0)
    years = np.arange(_year_of(days.min()), _year_of(days.max()) + 2)
    begin = np.array([_new_year(y) for y in years.tolist()])
    at = np.searchsorted(begin, days, side="right") - 1
    return np.asarray(years[at] + (days - begin[at]) / (begin[at + 1] - begin[at]))


def _year_of(day: float) -> int:
    return dt.date.fromordinal(int(day)).year


def _new_year(year: int) -> int:
    return dt.date(int(year), 1, 1).toordinal()
