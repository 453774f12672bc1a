"""What a life takes of hours and dates told in words: the edge that betters no answer.

An engine enters at the upper edge of its hours of entry and is known good at the lower one of those
last known good. Hours at the end that may be a failure's are kept with both edges; an engine that
goes on, or of which nobody knows, counts to the lower edge. Of a date, the middle day stands, moved
within its span where the row's other dates need it.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.rows.row import RowInHand
from fleetstats.records.rules import NO_EVENT
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.findings.cells import say_cell

DATES_OF = {
    "in_service_date": "in_service",
    "observed_from_date": "observed_from",
    "last_reading_date": "last_reading",
    "ended_date": "ended",
}
"""Columns of dates = the fields of a life, those of the start before those of the end."""

STARTS = ("in_service_date", "observed_from_date")
ENDS = ("last_reading_date", "ended_date")


@dataclass(frozen=True, slots=True)
class LifeDoubts:
    """What of a life is known with a doubt: hours at exit, and the spans of its dates.

    `high_h` are the highest hours at exit where the lowest are counted.

    `may_be_none` says that the doubts of entry and exit leave no hour that it surely ran.
    """

    low_h: float | None = None
    may_be_none: bool = False
    days: dict[str, tuple[dt.date, dt.date]] = field(default_factory=dict)
    high_h: float | None = None

    def exit_high(self, shift: float) -> float | None:
        """Return the highest hours at exit on a clock that began at `shift`."""
        return None if self.high_h is None else self.high_h - shift

    def exit_low(self, shift: float) -> float | None:
        """Return the lowest hours at exit on a clock that began at `shift`."""
        return None if self.low_h is None else max(self.low_h - shift, 0.0)


def settle_doubts(row: RowInHand, told: dict[str, Any]) -> LifeDoubts:
    """Put a number or a day in the place of each value told in words; return what is lost by it."""
    if not row.doubts:
        return LifeDoubts()
    entry, end = told["entry_hours"], told["exit_hours"]
    low_h = _settle_hours(row, told)
    lowest = entry.low if isinstance(entry, FigureDoubt) else entry or 0.0
    highest = end.high if isinstance(end, FigureDoubt) else end or 0.0
    sure = told["exit_hours"] if low_h is None or told["ending"][0] in FAILING_ENDINGS else low_h
    none = lowest < highest and (sure or 0.0) <= (told["entry_hours"] or 0.0)
    high = end.high if isinstance(end, FigureDoubt) and low_h is None else None
    return LifeDoubts(low_h, none, _settle_days(told), high)


def _settle_hours(row: RowInHand, told: dict[str, Any]) -> float | None:
    """Return the lowest hours at exit where the end may be a failure's and both edges count."""
    entry, good, end = (told[n] for n in ("entry_hours", "last_good_hours", "exit_hours"))
    if isinstance(entry, FigureDoubt):
        told["entry_hours"] = entry.high
        if math.isinf(entry.high):
            said = say_cell("entry-open", shown=row.text("entry_hours")[:40])
            row.add("hours-unreadable", "entry_hours", trouble=said.sentence, hint=said.cure)
            told["entry_hours"] = entry.low
    if isinstance(good, FigureDoubt):
        told["last_good_hours"] = good.low
    if not isinstance(end, FigureDoubt):
        return None
    told["exit_hours"] = end.low
    if told["ending"][0] in NO_EVENT or math.isinf(end.high):
        return None
    told["exit_hours"] = end.high
    return end.low


def _settle_days(told: dict[str, Any]) -> dict[str, tuple[dt.date, dt.date]]:
    spans = {n: told[n] for n in DATES_OF if isinstance(told[n], DayDoubt)}
    for name, span in spans.items():
        told[name] = span.middle
    for start in STARTS:
        for end in ENDS:
            _in_order(told, spans, start, end)
    return {DATES_OF[n]: (x.low, x.high) for n, x in spans.items() if x.low < x.high}


def _in_order(told: dict[str, Any], spans: dict[str, DayDoubt], start: str, end: str) -> None:
    """Move a start back and an end on, within their spans, where they stand the wrong way."""
    a, b = told[start], told[end]
    if a is None or b is None or a <= b:
        return
    if start in spans:
        a = told[start] = max(spans[start].low, b)
    if end in spans and a > b:
        told[end] = min(spans[end].high, a)
