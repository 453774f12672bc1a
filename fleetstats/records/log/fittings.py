"""Fittings: where a component sat, from which engine hours to which, read off an engine's log.

A component that is never named sits in its engine from the start to the end of the log; that is
exposure too, and without it only the parts that were changed would be seen.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from fleetstats.records.log.log import EngineLog
from fleetstats.records.log.log_replay import removal_ending
from fleetstats.records.log.log_state import READING_TOLERANCE_H
from fleetstats.records.log_event import LogEvent
from fleetstats.records.treated import log_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.events import PLANNED_CAUSES
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id


@dataclass(slots=True)
class Fitting:
    """One component in one place of one engine, between two hours since new of that engine."""

    log: EngineLog
    position: str
    serial: str
    on_h: float
    on_date: dt.date | None
    event: LogEvent | None
    original: bool = False
    age_on_h: float | None = None
    off_h: float | None = None
    off_date: dt.date | None = None
    off_event: LogEvent | None = None
    ending: str = "running"
    cause: str = ""
    confirmed: bool | None = None
    good_h: float | None = None
    renewed_h: list[float] = field(default_factory=list)

    @property
    def key(self) -> str:
        """Return the serial in the form in which serials are compared; empty when not known."""
        return normalise_id(self.serial)

    def close(self, h: float, e: LogEvent | None, ending: str) -> None:
        """Take the component off at `h`."""
        self.off_h, self.off_event, self.ending = h, e, ending
        if e is not None:
            self.off_date = e.date
            self.cause, self.confirmed = e.cause, e.confirmed


def find_places(logs: Iterable[EngineLog], component: str) -> tuple[str, ...]:
    """Return the places of a component in an engine: those named anywhere, else one unnamed."""
    named = {
        e.position
        for log in logs
        for e, _, _ in log.steps
        if e.component == component and e.position
    }
    return tuple(sorted(named, key=lambda p: (len(p), p))) or ("",)


def find_fittings(
    log: EngineLog, component: str, places: tuple[str, ...], settings: Settings
) -> tuple[list[Fitting], list[Finding]]:
    """Return the fittings of one engine and what is wrong with its part events.

    Parameters
    ----------
    log : EngineLog
        The engine's history since new.
    component : str
        Kind of component, as `fold` has it.
    places : tuple of str
        Its places in an engine, as `find_places` gives them.
    settings : Settings
        `check.interval_h` ties a part's removal to the finding before it.
    """
    if not log.stretches:
        return [], []
    walk = _Walk(log, component, places, settings)
    for e, h, _ in log.steps:
        walk.step(e, h)
    done = [*walk.done, *walk.seats.values()]
    done.sort(key=lambda f: (f.on_h, f.position))
    return done, walk.findings


class _Walk:
    """The walk through one engine's events: what sits where, and what sat there before."""

    def __init__(
        self, log: EngineLog, component: str, places: tuple[str, ...], settings: Settings
    ) -> None:
        self.log, self.component, self.places, self.settings = log, component, places, settings
        self.start = log.stretches[0][0]
        first = log.steps[0][0] if log.steps else None
        begun = None if first is None else first.date
        self.seats: dict[str, Fitting] = {
            p: Fitting(log=log, position=p, serial="", on_h=self.start, on_date=begun, event=None,
                       original=True)
            for p in places
        }  # fmt: skip
        self.done: list[Fitting] = []
        self.findings: list[Finding] = []
        self.faults: dict[str, tuple[LogEvent, float]] = {}

    def step(self, e: LogEvent, h: float) -> None:
        """Take in one event at `h` hours since new of the engine."""
        if e.kind == "check" and e.component in ("", self.component):
            for f in self.seats.values():
                f.good_h = h
        blamed = e.kind == "failed" and not e.component and fold(e.cause) == self.component
        if e.component != self.component and not blamed:
            return
        seat = _seat(e, self.seats, self.places)
        if e.kind == "part-fitted":
            self.fit(e, h, seat)
        elif e.kind == "part-removed":
            self.remove(e, h, seat)
        elif e.kind == "failed" and seat in self.seats:
            self.seats[seat].close(h, e, "failed")
            self.done.append(self.seats.pop(seat))
        elif e.kind == "finding" and seat in self.seats:
            self.faults[seat] = (e, h)
        elif e.kind == "overhauled" and seat in self.seats:
            self.seats[seat].renewed_h.append(h)

    def fit(self, e: LogEvent, h: float, seat: str) -> None:
        """Put a component on; what sat there must have come off, whether told or not."""
        if not e.serial:
            self.find("component-serial-missing", e, component=self.component)
        at_start = h <= self.start + READING_TOLERANCE_H
        old = self.seats.get(seat)
        if old is not None and not (at_start and old.original):
            if not old.original or old.serial:
                said = {"component": self.component, "old": old.serial or "another"}
                self.find("component-place-taken", e, **said)
            old.close(h, None, "removed")
            old.off_date = e.date
            self.done.append(old)
        self.seats[seat] = Fitting(log=self.log, position=seat, serial=e.serial,
                                   on_h=max(h, self.start), on_date=e.date, event=e,
                                   age_on_h=e.since_new_h)  # fmt: skip

    def remove(self, e: LogEvent, h: float, seat: str) -> None:
        """Take a component off, unless it is the one that had failed there."""
        gone = _pull(e, seat, self.seats)
        if gone is None:
            if not _broke(e, seat, self.done):
                self.find("component-not-fitted", e, component=self.component, serial=e.serial)
            return
        _close_removed(gone, e, h, self.faults.pop(gone.position, None), self.settings)
        self.done += _fitted_later(gone, e, h, self.settings, self.findings)

    def find(self, key: str, e: LogEvent, **fields: str) -> None:
        found = log_finding(key, e, self.settings, column="serial", **fields)
        self.findings.append(found)


def _seat(e: LogEvent, seats: dict[str, Fitting], places: tuple[str, ...]) -> str:
    """Return the place that an event means; by the serial where the place is not written."""
    if e.position or len(places) == 1:
        return e.position or places[0]
    key = normalise_id(e.serial)
    for p, f in seats.items():
        if key and f.key == key:
            return p
    return next((p for p in places if p not in seats), places[0])


def _pull(e: LogEvent, seat: str, seats: dict[str, Fitting]) -> Fitting | None:
    """Take the fitting that a removal means out of its place; None when it is not there."""
    f = seats.get(seat)
    if f is None:
        return None
    if not f.serial and f.original:
        f.serial = e.serial
    elif e.serial and f.serial and normalise_id(e.serial) != f.key:
        return None
    return seats.pop(seat)


def _fitted_later(
    f: Fitting, e: LogEvent, h: float, settings: Settings, findings: list[Finding]
) -> list[Fitting]:
    """Date a part that was there from the start by the hours told at its removal.

    With fewer hours than the engine ran it cannot be the first in its place: it was fitted new
    when the difference had been run, and the one before it left then, nobody said why.
    """
    if e.since_new_h is None or f.age_on_h is not None or not f.original or f.off_h is None:
        return [f]
    age = e.since_new_h - (h - f.on_h)
    if age >= 0:
        f.age_on_h = age
        return [f]
    at = h - e.since_new_h
    first = Fitting(log=f.log, position=f.position, serial="", on_h=f.on_h, on_date=f.on_date,
                    event=None, original=True)  # fmt: skip
    first.close(at, None, "removed")
    findings.append(
        log_finding(
            "component-fitting-inferred",
            e,
            settings,
            column="since_new_hours",
            part=f.serial or e.component,
            given_h=e.since_new_h,
            at=at,
        )
    )
    f.on_h, f.age_on_h, f.original, f.on_date = at, 0.0, False, None
    f.off_h = max(f.off_h, at)
    return [first, f]


def _broke(e: LogEvent, seat: str, done: list[Fitting]) -> bool:
    """Return whether the part taken off is the one that had failed there."""
    last = next((f for f in reversed(done) if f.position == seat), None)
    if last is None or last.ending != "failed":
        return False
    if not last.serial:
        last.serial = e.serial
    return not e.serial or normalise_id(e.serial) == last.key


def _close_removed(
    f: Fitting,
    e: LogEvent,
    h: float,
    fault: tuple[LogEvent, float] | None,
    settings: Settings,
) -> None:
    """Close a fitting at its removal; one that follows a finding ends at or because of it."""
    due = bool(e.cause) and fold(e.cause) in PLANNED_CAUSES
    if fault is None or due or h - fault[1] > settings.check.interval_h:
        f.close(h, e, removal_ending(e.cause, e.confirmed, settings))
        return
    found, found_h = fault
    confirmed = found.confirmed if e.confirmed is None else e.confirmed
    certain = confirmed is True and found_h > f.on_h
    f.close(found_h if certain else h, e, "found-at-check" if certain else "removed-finding")
    f.cause, f.confirmed = e.cause or found.cause, confirmed
