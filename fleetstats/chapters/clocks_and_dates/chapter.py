"""Clocks, cut-off date and calendar, as chapters of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.clocks_and_dates.compute import (
    advise_calendar,
    advise_clocks,
    advise_looking_back,
)
from fleetstats.chapters.clocks_and_dates.values import CalendarView, ClockRange, LookingBack
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_clocks(base: Results, _done: Mapping[str, Value]) -> ClockRange | None:
    """Return the answers at both ends of the clock factors."""
    built = base.built
    return advise_clocks(
        built.rows, base.settings, base.records.factors, built.left_out, built.before_rise
    )


def chapter_looking_back(base: Results, _done: Mapping[str, Value]) -> LookingBack | None:
    """Return the answers as of earlier dates."""
    built = base.built
    return advise_looking_back(built.rows, base.settings, built.left_out, built.before_rise)


def chapter_calendar(base: Results, _done: Mapping[str, Value]) -> CalendarView | None:
    """Return hours and years side by side."""
    return advise_calendar(base.built.rows, base.spells)
