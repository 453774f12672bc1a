"""One event of a log as read, and the order of an engine's events.

Record shape B has one row per event. An event is kept as it was written; what it means for the
engine's lives is decided by the replay alone.
"""

from __future__ import annotations

import datetime as dt
import itertools
import operator
from collections.abc import Iterable
from dataclasses import field
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.events import KINDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.ids import normalise_id

STARTS = ("installed", "returned")
"""Events that put an engine into service."""

REPEATABLE = ("reading", "check")
"""Events that tell that an engine runs on; a new file may carry them over from the old one."""

_SAME_DAY = {kind: rank for rank, kind in enumerate(KINDS)}


@value
class LogEvent(Value):
    """One row of a log, as written.

    Parameters
    ----------
    origin : Origin
        File and row.
    engine : str
        Engine serial as written.
    kind : str
        A word of `KINDS`.
    hours : float or None
        The meter's reading in hours, on the log's clock.
    doubt_h : tuple of float or None
        By how many hours fewer, and how many more, than `hours` the reading may be, where words
        told it; the second may be infinite.
    days : tuple of date or None
        First and last day that `date`, told as a span, may be.
    since_new_h, since_overhaul_h : float or None
        Hours that tie the meter to the engine's (or component's) own age.
    new_reading_h : float or None
        What a new meter shows.
    cost : float or None
        In the study's money.
    categories : dict
        Words told of the engine by column: what it does from here on, what it runs on.
    """

    origin: Origin
    engine: str
    kind: str
    hours: float | None = None
    doubt_h: tuple[float, float] | None = None
    date: dt.date | None = None
    days: tuple[dt.date, dt.date] | None = None
    cause: str = ""
    confirmed: bool | None = None
    component: str = ""
    serial: str = ""
    position: str = ""
    since_new_h: float | None = None
    since_overhaul_h: float | None = None
    new_reading_h: float | None = None
    build: str = ""
    meter: str = ""
    source: str = ""
    cost: float | None = None
    note: str = ""
    categories: dict[str, str] = field(default_factory=dict)

    @property
    def engine_id(self) -> str:
        """Return the engine's id in the form in which engines are compared."""
        return normalise_id(self.engine)

    @property
    def row(self) -> int:
        """Return the row number in the file; 0 when unknown."""
        return self.origin.row or 0


def place_of(e: LogEvent) -> tuple[str, str]:
    """Return the file and sheet in which an event stands."""
    return e.origin.file, e.origin.sheet


def lines_beside(origin: Origin, events: Iterable[LogEvent]) -> dict[str, Any]:
    """Return `rows` and `elsewhere` of a life at `origin` that was made from events."""
    here, away = [], []
    file, sheet = origin.file, origin.sheet
    for e in events:
        at = e.origin
        if at.file == file and at.sheet == sheet:
            here.append(at.row or 0)
        else:
            away.append(at)
    return {"rows": tuple(here), "elsewhere": tuple(away)}


def log_file_of(events: Iterable[LogEvent]) -> str:
    """Return the first file of one engine's events where they stand in several; else empty."""
    files = list(dict.fromkeys(e.origin.file for e in events))
    return files[0] if len(files) > 1 else ""


def in_order(events: list[LogEvent]) -> list[LogEvent]:
    """Return the events of one engine in the order in which they happened.

    Dates decide. A row without a date stays behind the row above it. Within one day the file's
    order stands, but for rows at equal (or no) hours, which follow the order of `KINDS`. What is
    written newest first, the whole or one file of it, is turned over before that.
    """
    if _each_on_a_later_day(events):
        return events
    if _newest_first(events):
        events = events[::-1]
    else:
        files = (list(part) for _, part in itertools.groupby(events, key=place_of))
        events = [e for part in files for e in (part[::-1] if _newest_first(part) else part)]
    stamped: list[tuple[dt.date, int, LogEvent]] = []
    day = dt.date.min
    for i, e in enumerate(events):
        day = e.date or day
        stamped.append((day, i, e))
    stamped.sort(key=lambda s: (s[0], s[1]))
    blocks: list[list[LogEvent]] = []
    last: dt.date | None = None
    for day, _, e in stamped:
        if not blocks or day != last or not _one_moment(blocks[-1], e):
            blocks.append([])
        blocks[-1].append(e)
        last = day
    out: list[LogEvent] = []
    for block in blocks:
        start = [] if out else [e for e in block if e.kind in STARTS]
        rest = [e for e in block if e not in start]
        out += start + sorted(rest, key=lambda e: _SAME_DAY[e.kind])
    return out


def _each_on_a_later_day(events: list[LogEvent]) -> bool:
    """Return whether the events stand in their order already, with a day between any two."""
    days = [e.date for e in events if e.date is not None]
    return len(days) == len(events) and all(map(operator.lt, days, days[1:]))


def _newest_first(events: list[LogEvent]) -> bool:
    dates = [e.date for e in events if e.date is not None]
    falls = all(a >= b for a, b in itertools.pairwise(dates))
    return len(dates) > 1 and dates[0] > dates[-1] and falls


def _one_moment(block: list[LogEvent], e: LogEvent) -> bool:
    hours = {b.hours for b in block if b.hours is not None}
    dated = e.date is not None and all(b.date is not None for b in block)
    return dated and (e.hours is None or not hours or hours == {e.hours})
