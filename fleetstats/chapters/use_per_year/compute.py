"""Engines flown little against much, and the clock that each cause follows."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.use_per_year.values import CauseClock, UsePerYear
from fleetstats.chapters.use_per_year.words import caution_clock, say_use
from fleetstats.core.value import Array
from fleetstats.records.clocks.usage import DAYS_PER_YEAR, MOST_H_PER_YEAR, SHORTEST_DAYS
from fleetstats.spells.calendar import CalendarAges, build_calendar
from fleetstats.spells.spells import Spells
from fleetstats.survival.clocks.which_clock import WhichClock, tell_clock
from fleetstats.survival.groups.equal_ages import EqualAges, compare_equal_ages
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE

FEWEST_LIVES = 10
"""Lives of known use below which nothing is said of it (common practice, no source)."""

TENTHS = (0.10, 0.50, 0.90)
"""Shares of the lives at which use per year is told."""


def chapter_use(base: Base) -> UsePerYear | None:
    """Return what use per year does; None below ten lives of known use."""
    rows = base.built.rows
    if not rows:
        return None
    cal = known_use(build_calendar(rows, base.spells))
    if len(cal) < FEWEST_LIVES:
        return None
    unknown = float(base.spells.weight.sum() - cal.spells.weight.sum())
    return weigh_use(cal, level=base.settings.study.confidence, n_unknown=unknown)


def known_use(cal: CalendarAges) -> CalendarAges:
    """Return the lives whose use can be told: watched for 90 days or more, at no impossible use."""
    years = cal.exit_years - cal.entry_years
    keep = (years * DAYS_PER_YEAR >= SHORTEST_DAYS) & (cal.hours_per_year <= MOST_H_PER_YEAR)
    return CalendarAges(
        spells=cal.spells.select(keep),
        entry_years=cal.entry_years[keep],
        exit_years=cal.exit_years[keep],
        row=cal.row[keep],
        n_undated=cal.n_undated,
    )


def weigh_use(cal: CalendarAges, *, level: float, n_unknown: float = 0.0) -> UsePerYear:
    """Return engines flown little beside much, and each cause's clock.

    Parameters
    ----------
    cal : CalendarAges
        Lives of known use.
    level : float
        Two-sided confidence of the ratios.
    n_unknown : float
        Lives that are not among them.
    """
    s, use = cal.spells, cal.hours_per_year
    low, median, high = _quantiles(use, s.weight)
    little = use < median
    clocks = clocks_of(cal)
    at_hours, at_years = (_compare(x, little, level) for x in (s, cal.by_years))
    return UsePerYear(
        n_lives=float(s.weight.sum()),
        n_unknown=n_unknown,
        low_h=low,
        median_h=median,
        high_h=high,
        at_hours=at_hours,
        at_years=at_years,
        clocks=clocks,
        cautions=tuple(caution_clock(clocks)),
        sentence=say_use(median, low, high, at_hours, at_years, n_unknown=n_unknown),
    )


def clocks_of(cal: CalendarAges) -> tuple[CauseClock, ...]:
    """Return the clock of all failures together and of each cause, each held to be one of them."""
    s = cal.spells
    causes = s.cause[s.failed]
    names = np.unique(causes)
    n = {str(c): float(s.weight[s.failed][causes == c].sum()) for c in names}
    asked = sorted(n, key=lambda c: (-n[c], c))
    k = sum(x >= FEW_FOR_SHAPE for x in n.values()) + (len(names) > 1)
    out = []
    if len(names) > 1 and s.n_failed >= FEW_FOR_SHAPE:
        out.append(CauseClock(cause="", n_failed=s.n_failed, clock=_clock(cal, s.failed, k)))
    for c in asked:
        enough = n[c] >= FEW_FOR_SHAPE
        told = _clock(cal, s.failed & (s.cause == c), k) if enough else None
        out.append(CauseClock(cause=c or "not stated", n_failed=n[c], clock=told))
    return tuple(out)


def _clock(cal: CalendarAges, failed: Array, n_causes: int) -> WhichClock | None:
    """Return the clock of some failures; one known by an interval counts half-way along it."""
    s = cal.spells
    end = 0.5 * (s.exit_lower + s.exit_upper)
    share = (end - s.entry) / (s.exit_upper - s.entry)
    years = cal.entry_years + share * (cal.exit_years - cal.entry_years)
    return tell_clock((s.entry, end), (cal.entry_years, years), failed, s.weight, n_causes=n_causes)


def _compare(spells: Spells, little: Array, level: float) -> EqualAges | None:
    if not little.any() or little.all() or spells.n_failed <= 0:
        return None
    return compare_equal_ages(spells, little, level=level)


def _quantiles(use: Array, weight: Array) -> tuple[float, float, float]:
    order = np.argsort(use, kind="stable")
    share = np.cumsum(weight[order]) / weight.sum()
    low, median, high = (float(use[order][np.searchsorted(share, p)]) for p in TENTHS)
    return low, median, high
