"""The state of one engine while its log is replayed: its clock, and whether it is in service.

There is one clock, hours since new, whatever the meter shows, and two facts about it: the
hours at which the engine was last overhauled, and whether it is in service. Stretches in service
become lives. A stretch ends when the engine leaves service, is overhauled or is modified; cutting
a life there changes no estimate, since the next stretch enters at the hours of the cut.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.log_event import LogEvent
from fleetstats.records.set_aside import SetAside
from fleetstats.records.told_values import from_hours, moved
from fleetstats.records.treated import log_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.fields.categories import level_of
from fleetstats.vocabulary.finding import Finding

READING_TOLERANCE_H = 0.1
"""Two readings closer than this are one: meters show tenths."""

SHOP_RUN_H = 5.0
"""Hours an engine may run in the shop or on test between removal and return (common practice,
no source)."""

CLOCKS_AGREE_H = 2.0
"""Since-new hours given beside the meter may differ from it by this much."""

PART_KINDS = ("part-fitted", "part-removed")
"""Events of a component, which say nothing of the engine's own clock."""

ENDS = ("removed", "overhauled", "failed", "lost", "retired")
"""Events that end a life."""

LEAVING = ("removed", "overhauled", "failed")
"""Events that take an engine out of service and may be the outcome of a finding."""


def hours_in(days: int) -> float:
    """Return the most hours that an engine can run from one day to another, both whole."""
    return 24.0 * (days + 1)


@dataclass(slots=True)
class Stretch:
    """Hours since new in service without a break, and how they ended.

    `started` is the last day known at its start, `zero_day` the day of that start itself.
    """

    start_h: float
    started: dt.date | None
    zero_day: dt.date | None
    renewed_h: float
    life: int
    build: str
    end_h: float = 0.0
    low_h: float | None = None
    ended: dt.date | None = None
    last: LogEvent | None = None
    ending: str = "running"
    cause: str = ""
    confirmed: bool | None = None
    good_h: list[float] = field(default_factory=list)
    teardown: bool | None = None
    note: str = ""
    events: list[LogEvent] = field(default_factory=list)
    told: dict[str, tuple[tuple[float, str], ...]] = field(default_factory=dict)


@dataclass(slots=True)
class Step:
    """One event with the hours since new at which it happened."""

    event: LogEvent
    hours: float
    in_service: bool


class EngineState:
    """State of one engine while its events are taken in order; `stretches` is what comes out.

    `histories` says whether `steps` are kept too.
    """

    def __init__(self, settings: Settings, *, histories: bool = True) -> None:
        self.settings = settings
        self.histories = histories
        self.state = "unseen"
        self.h = 0.0
        self.day: dt.date | None = None
        self.offset = 0.0
        self.restarting = False
        self.renewed_h = 0.0
        self.renewed_day: dt.date | None = None
        self.life = 0
        self.since_new_known = True
        self.installed = False
        self.build = ""
        self.told: dict[str, str] = {}
        self.fault: LogEvent | None = None
        self.fault_h = 0.0
        self.open: Stretch | None = None
        self.stretches: list[Stretch] = []
        self.waiting: list[LogEvent] = []
        self.steps: list[Step] = []
        self.findings: list[Finding] = []
        self.set_aside: list[SetAside] = []

    # -- hours ---------------------------------------------------------------------------------

    def hours_at(self, e: LogEvent) -> float | None:
        """Return hours since new at an event; None when the event had to be set aside."""
        if self.state == "unseen" and not (e.kind in PART_KINDS and e.hours is None):
            return self.first_hours(e)
        if e.hours is None:
            if e.since_new_h is not None and e.kind not in PART_KINDS:
                return self.forwards(e, e.since_new_h)
            needless = self.state != "in service" or e.kind in ("lost", "retired")
            if needless or (e.date is not None and e.date == self.day):
                return self.h
            self.aside("log-hours-missing", e)
            return None
        return self.forwards(e, self.since_new(e, e.hours))

    def forwards(self, e: LogEvent, h: float) -> float | None:
        """Return the hours, unless they fall below those of the event before."""
        above = 0.0 if e.doubt_h is None else e.doubt_h[1]
        if h < self.h - READING_TOLERANCE_H <= h + above:
            return self.h  # its words leave room for the hours of the event before
        if h < self.h - READING_TOLERANCE_H:
            restarts = self.life > 0 and self.settings.hours.log_hours == "since-new"
            self.aside(
                "log-hours-backwards/overhauled" if restarts else "log-hours-backwards",
                e,
                last=self.h - self.offset,
                reading=h - self.offset,
                renewed_h=self.renewed_h,
            )
            return None
        return max(self.compare(e, h), self.h)

    def lowest(self, e: LogEvent, h: float) -> float | None:
        """Return the lowest hours that an event at `h` may have; None where it has no doubt."""
        if e.doubt_h is None or self.open is None:
            return None
        seen = self.open.start_h if e is self.fault else max(self.h, self.open.start_h)
        return min(max(h - e.doubt_h[0], seen), h)

    def first_hours(self, e: LogEvent) -> float | None:
        """Tie the meter to the engine's age at its first event."""
        # An earlier row may have been set aside after it tied the clocks.
        self.offset = self.renewed_h = 0.0
        self.life, self.since_new_known = 0, True
        restarts = self.settings.hours.log_hours == "since-overhaul"
        reading = e.since_new_h if e.hours is None else e.hours
        if reading is None and restarts:
            reading = 0.0 if e.kind == "overhauled" else e.since_overhaul_h
        if reading is not None and e.hours is not None and e.doubt_h is not None:
            reading += e.doubt_h[1]  # an engine counts from the highest hours at which it began
        if reading is None or math.isinf(reading):
            self.aside("log-hours-missing/first", e)
            return None
        if restarts and (e.hours is not None or e.since_new_h is None):
            self.offset = 0.0 if e.since_new_h is None else e.since_new_h - reading
            at_zero = e.kind == "installed" and reading <= READING_TOLERANCE_H
            self.since_new_known = e.since_new_h is not None or at_zero
            self.renewed_h = self.offset
        elif e.since_new_h is not None and e.kind not in PART_KINDS:
            self.offset = e.since_new_h - reading
        h = self.offset + reading
        if e.since_overhaul_h is not None and e.kind not in PART_KINDS:
            self.renewed_h = h - e.since_overhaul_h
        elif (
            h > READING_TOLERANCE_H
            and not restarts
            and self.settings.hours.basis == "since-overhaul"
        ):
            self.find("log-no-overhaul-history", e, h=h)
        if self.renewed_h > READING_TOLERANCE_H or not self.since_new_known:
            self.life = -1
        if h < 0 or self.renewed_h < -CLOCKS_AGREE_H:
            self.aside("log-hours-backwards/below-zero", e)
            return None
        return h

    def since_new(self, e: LogEvent, reading: float) -> float:
        """Return hours since new for a reading, restarting the meter after an overhaul."""
        if self.settings.hours.log_hours == "since-overhaul":
            last = self.h - self.offset
            if self.restarting:
                self.restarting = False
                if reading >= last - READING_TOLERANCE_H and last > SHOP_RUN_H:
                    self.find("log-overhaul-runs-on/after", e, last=last, reading=reading)
                else:
                    self.offset = self.renewed_h
            elif e.kind == "overhauled" and reading <= SHOP_RUN_H < last:
                return self.h
        return self.offset + reading

    def compare(self, e: LogEvent, h: float) -> float:
        """Compare an event's hours with the calendar and with other clocks given beside it.

        Returns the hours, moved if they only now become known as hours since new.
        """
        days = None if e.date is None or self.day is None else (e.date - self.day).days
        if days is not None and h - self.h > hours_in(days):
            self.find("log-too-fast", e, ran_h=h - self.h, days=days)
        if e.since_new_h is not None and e.kind not in PART_KINDS:
            shift = e.since_new_h - h
            starts = [x.start_h for x in (*self.stretches, *([self.open] if self.open else []))]
            lowest = min(self.offset, self.renewed_h, *starts)
            if not self.since_new_known and lowest + shift >= -READING_TOLERANCE_H:
                self.shift(max(shift, -lowest))
                h += max(shift, -lowest)
            elif abs(shift) > CLOCKS_AGREE_H:
                self.disagree(e, "since_new_h", h)
        since = None if e.kind in (*PART_KINDS, "overhauled") else e.since_overhaul_h
        if since is not None and abs(since - (h - self.renewed_h)) > CLOCKS_AGREE_H:
            self.disagree(e, "since_overhaul_h", h - self.renewed_h)
        return h

    def disagree(self, e: LogEvent, column: str, ours: float) -> None:
        """Report a clock beside the meter that does not fit it."""
        name = column.removesuffix("_h") + "_hours"  # as the file names it
        self.find(
            "log-clocks-disagree", e, column=name, name=name, given=getattr(e, column), ours=ours
        )

    def shift(self, by: float) -> None:
        """Move every hour so far, once the hours since new become known."""
        self.since_new_known = True
        self.offset += by
        self.renewed_h += by
        self.h += by
        self.fault_h += by
        for s in [*self.stretches, *([self.open] if self.open else [])]:
            s.start_h += by
            s.end_h += by
            s.low_h = None if s.low_h is None else s.low_h + by
            s.renewed_h += by
            s.good_h = [g + by for g in s.good_h]
            s.told = moved(s.told, less=-by)
        for step in self.steps:
            step.hours += by

    # -- findings ------------------------------------------------------------------------------

    def find(self, key: str, e: LogEvent, *, column: str = "hours", **fields: Any) -> None:
        """Note a finding of the catalogue at an event that is used all the same."""
        self.findings.append(log_finding(key, e, self.settings, column=column, **fields))

    def aside(self, key: str, e: LogEvent, *, column: str = "hours", **fields: Any) -> None:
        """Note a finding of the catalogue and set the event's row aside."""
        self.find(key, e, column=column, **fields)
        f = self.findings[-1]
        self.set_aside.append(put_aside(e, f.code, f.message, into=str(fields.get("other", ""))))

    # -- stretches -----------------------------------------------------------------------------

    def begin(self, e: LogEvent | None, h: float) -> Stretch:
        """Put the engine in service at `h`; without an event, where its overhaul left it."""
        self.open = Stretch(
            start_h=h,
            started=e.date if e is not None else self.day,
            zero_day=e.date if e is not None else self.renewed_day,
            renewed_h=self.renewed_h,
            life=self.life,
            build=self.build,
            told={column: ((h, word),) for column, word in self.told.items()},
        )
        self.state = "in service"
        self.fault = None
        return self.open

    def tell(self, e: LogEvent, h: float) -> None:
        """Take what an event tells of the engine in words: it holds from the event on.

        What the first event of a life tells holds from its start. A change told by the event that
        ends a life came after the event before, and counts from there.
        """
        words = self.settings.categories.words
        for column, word in e.categories.items():
            before = self.told.get(column)
            self.told = {**self.told, column: word}
            s = self.open
            if s is None:
                continue
            values = s.told.get(column, ())
            if not values:
                s.told = {**s.told, column: ((s.start_h, word),)}
                continue
            if before is not None and level_of(column, before, words) == level_of(
                column, word, words
            ):
                continue
            ends = e.kind in ENDS
            if ends:
                self.find("category-changed-at-end", e, column=column, name=column,
                          old=before or values[-1][1], new=word, since_h=self.h)  # fmt: skip
            s.told = {**s.told, column: (*values, (self.h if ends else h, word))}

    def end(
        self,
        ending: str,
        h: float,
        e: LogEvent | None,
        *,
        cause: str = "",
        told_by: LogEvent | None = None,
    ) -> None:
        """Close the open stretch at `h`, the hours of `told_by`, or else of `e`."""
        s = self.open
        assert s is not None
        at = told_by or e
        s.ending, s.end_h = ending, h
        s.low_h = None if at is None else self.lowest(at, h)
        s.cause = cause
        if e is not None:
            s.confirmed = e.confirmed
            if e.date is not None or h > self.h + READING_TOLERANCE_H:
                s.ended = e.date  # the date of earlier hours is not the date of these
            s.last = e
            s.note = e.note
            s.events += [*self.waiting, e]
            self.waiting = []
        self.open = None
        self.stretches.append(s)

    def keep(self, e: LogEvent, *, moved: bool) -> None:
        """Give the event's row to the life that it belongs to, once.

        `moved` says that it has hours beyond those before: then its date, known or not, is theirs.
        """
        told = self.stretches[-1].events if self.stretches else []
        if told and (told[-1] is e or any(x is e for x in told)):
            return
        if self.open is None:
            self.waiting.append(e)
            return
        self.open.events += [*self.waiting, e]
        self.open.last = e
        if e.date is not None or moved:
            self.open.ended = e.date
        self.waiting = []

    def cut_for_fault(self, e: LogEvent | None) -> None:
        """End the life at a finding beyond limits that did not lead to a removal.

        Only at the failure level that counts findings; at others the engine's life goes on.
        """
        f, s = self.fault, self.open
        if f is None or s is None or (e is not None and e.kind in LEAVING):
            return
        if self.settings.question.level != "beyond-limits" or f.confirmed is False:
            return
        if self.fault_h > s.start_h:
            after = next((i + 1 for i, x in enumerate(s.events) if x is f), len(s.events))
            rest, last, day = s.events[after:], s.last, s.ended
            good = [g for g in s.good_h if g > self.fault_h]
            self.end("found-at-check", self.fault_h, None, cause=f.cause, told_by=f)
            s.confirmed, s.ended, s.last, s.events = f.confirmed, f.date, f, s.events[:after]
            new = self.begin(f, self.fault_h)
            new.events, new.last, new.ended, new.good_h = rest, last, day, good
            new.told = from_hours(s.told, self.fault_h)
        self.fault = None


def put_aside(e: LogEvent, code: str, message: str, into: str = "") -> SetAside:
    """Return the account of an event that is not used; `into` is a row that tells of the same."""
    return SetAside(
        file=e.origin.file,
        row=e.row,
        reason=code,
        message=message,
        engine=e.engine,
        source=e.source,
        sheet=e.origin.sheet,
        into=into,
    )
