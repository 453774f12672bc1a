"""Events of a log: the words that a log may use, and one event as read.

Record shape B has one row per event. An event is kept as it was written; what it means for the
engine's lives is decided by the replay alone.
"""

from __future__ import annotations

import datetime as dt
import itertools

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

KINDS: dict[str, str] = {
    "reading": "hours read from the meter",
    "check": "checked, nothing found: known good at these hours",
    "finding": "a fault or a limit found at a check",
    "unscheduled": "unscheduled work on the engine, which stayed in service",
    "failed": "failed",
    "removed": "taken out of service, with the cause why",
    "lost": "not heard of after these hours",
    "teardown": "taken apart and inspected; confirmed says whether a fault was found",
    "part-removed": "a component taken off",
    "part-fitted": "a component put on",
    "overhauled": "overhauled as a whole: the clock since overhaul restarts",
    "top-overhaul": "top overhaul: the clock since overhaul goes on",
    "modified": "changed to another build standard",
    "meter-changed": "meter replaced or reset; new_reading_h is what the new one shows",
    "returned": "returned to service after a removal",
    "installed": "put into service",
    "retired": "sold, scrapped or withdrawn for good",
}
"""Kinds of event in our words, in the order in which they happen when written on one day."""

SYNONYMS: dict[str, str] = {
    "installation": "installed",
    "install": "installed",
    "fitted to aircraft": "installed",
    "entered service": "installed",
    "in service": "installed",
    "new": "installed",
    "meter reading": "reading",
    "hours": "reading",
    "report": "reading",
    "flight": "reading",
    "stored": "reading",
    "inspection": "check",
    "checked": "check",
    "check ok": "check",
    "check clean": "check",
    "found at check": "finding",
    "fault found": "finding",
    "defect": "finding",
    "removal": "removed",
    "remove": "removed",
    "taken off": "removed",
    "overhaul": "overhauled",
    "major overhaul": "overhauled",
    "top overhaul": "top-overhaul",
    "overhauled top": "top-overhaul",
    "return to service": "returned",
    "returned to service": "returned",
    "reinstalled": "returned",
    "refitted": "returned",
    "back in service": "returned",
    "failure": "failed",
    "fail": "failed",
    "retirement": "retired",
    "scrapped": "retired",
    "sold": "retired",
    "withdrawn": "retired",
    "modification": "modified",
    "upgraded": "modified",
    "part fitted": "part-fitted",
    "component fitted": "part-fitted",
    "part installed": "part-fitted",
    "part removed": "part-removed",
    "component removed": "part-removed",
    "tear-down": "teardown",
    "strip inspection": "teardown",
    "stripped": "teardown",
    "meter change": "meter-changed",
    "meter replaced": "meter-changed",
    "new meter": "meter-changed",
    "lost to follow-up": "lost",
    "left": "lost",
    "left the club": "lost",
    "unscheduled work": "unscheduled",
    "unscheduled maintenance": "unscheduled",
}
"""Other words for the same, compared as `fold` has them."""

_KIND_BY_WORD = {fold(w): k for w, k in SYNONYMS.items()} | {fold(k): k for k in KINDS}

PLANNED_CAUSES = (
    "",
    "overhaul",
    "overhaul due",
    "planned overhaul",
    "scheduled overhaul",
    "hours due",
    "time expired",
    "calendar overhaul",
    "due",
)
"""Causes of a removal that mean that the clock or the calendar was due."""

STARTS = ("installed", "returned")
"""Events that put an engine into service."""

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
    since_new_h, since_overhaul_h : float or None
        Hours that tie the meter to the engine's (or component's) own age.
    new_reading_h : float or None
        What a new meter shows.
    cost : float or None
        In the study's money.
    """

    origin: Origin
    engine: str
    kind: str
    hours: float | None = None
    date: dt.date | None = None
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

    @property
    def engine_id(self) -> str:
        """Return the engine's id in the form in which engines are compared."""
        return normalise_id(self.engine)

    @property
    def row(self) -> int:
        """Return the row number in the file; 0 when unknown."""
        return self.origin.row or 0


def kind_of(text: str) -> str | None:
    """Return the event kind that a word of the records means, or None."""
    return _KIND_BY_WORD.get(fold(text))


def in_order(events: list[LogEvent]) -> list[LogEvent]:
    """Return the events of one engine in the order in which they happened.

    Dates decide. A row without a date stays behind the row above it. Within one day the file's
    order stands, but for rows at equal (or no) hours, which follow the order of `KINDS`. A file
    written newest first is turned over before that.
    """
    dates = [e.date for e in events if e.date is not None]
    if (
        len(dates) > 1
        and dates[0] > dates[-1]
        and all(a >= b for a, b in itertools.pairwise(dates))
    ):
        events = events[::-1]
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


def _one_moment(block: list[LogEvent], e: LogEvent) -> bool:
    hours = {b.hours for b in block if b.hours is not None}
    dated = e.date is not None and all(b.date is not None for b in block)
    return dated and (e.hours is None or not hours or hours == {e.hours})
