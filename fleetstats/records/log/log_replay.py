"""A log replayed: each kind of event does what it says to the engine's state.

Events that contradict the state are findings. Under ``accept`` the replay goes on with the least
that both can mean, and never counts hours that nobody saw.
"""

from __future__ import annotations

from collections.abc import Callable

from fleetstats.records.log.log_state import (
    PART_KINDS,
    READING_TOLERANCE_H,
    SHOP_RUN_H,
    EngineState,
    Step,
    hours_in,
)
from fleetstats.records.log_event import REPEATABLE, STARTS, LogEvent, in_order
from fleetstats.records.merging.alike import alike_h
from fleetstats.records.rules import names_fault
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.events import PLANNED_CAUSES
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known


def replay_engine(
    events: list[LogEvent], settings: Settings, *, histories: bool = True
) -> EngineState:
    """Return the state of one engine after all its events, with its stretches in service.

    Parameters
    ----------
    events : list of LogEvent
        Events of one engine, in the order of the file.
    settings : Settings
        `hours.log_hours` and `hours.basis` say what the hours count, `question.level` whether a
        finding ends a life, `check.interval_h` how long a removal can follow its finding.
    histories : bool
        Whether each event is kept with its hours since new, in `steps`.
    """
    state = EngineState(settings, histories=histories)
    ordered = in_order(events)
    at = 0
    while at < len(ordered):
        at = _run_on(state, ordered, at)
        if at < len(ordered):
            event = ordered[at]
            at += 1
            take_event(state, event, ordered[at:] if event.kind in LEFT else [])
    state.cut_for_fault(None)
    if state.open is not None:
        state.end("running", state.h, None)
    if state.stretches and state.waiting:
        state.stretches[-1].events += state.waiting
        state.waiting = []
    return state


LEFT = ("failed", "removed")
"""Events of an engine that leaves, for which it is asked whether it was ever put in."""


def _run_on(state: EngineState, ordered: list[LogEvent], at: int) -> int:
    """Take the events from a place on that tell nothing but that the engine ran on, as most do.

    Each does what `take_event` does, without being asked what no such event can answer. Returns
    the place of the first event that tells more.
    """
    s = state.open
    if s is None or state.fault is not None or state.restarting:
        return at
    offset, state_h, state_day, build = state.offset, state.h, state.day, s.build
    end = at
    for e in ordered if at == 0 else ordered[at:]:
        reading, day = e.hours, e.date
        if (
            reading is None
            or e.kind not in REPEATABLE
            or e.since_new_h is not None
            or e.since_overhaul_h is not None
            or e.categories
            or (e.build and e.build != build)
        ):
            break
        h = offset + reading
        if h < state_h:
            break
        if day is not None:
            if state_day is not None and h - state_h > hours_in((day - state_day).days):
                break
            s.ended = state_day = day
        elif h > state_h + READING_TOLERANCE_H:
            s.ended = None
        if e.kind == "check":
            s.good_h.append(h)
        if state.histories:
            state.steps.append(Step(e, h, True))
        state_h = h
        end += 1
    if end > at:
        s.events += ordered[at:end]  # no row waits for a life while one goes on
        s.last = ordered[end - 1]
        state.h, state.day = state_h, state_day
    return end


def take_event(state: EngineState, e: LogEvent, later: list[LogEvent]) -> None:
    """Let one event do what it says; `later` are the events after it."""
    if e.kind in STARTS and state.state == "in service":
        _installed_again(state, e)
        return
    if e.kind in LEFT and state.state in ("unseen", "lost"):
        _without_exposure(state, e, later)
        return
    if state.state == "retired" and e.kind not in ("teardown", "retired", *PART_KINDS):
        state.aside("log-after-retirement", e, column="kind")
        return
    h = state.hours_at(e)
    if h is None:
        return
    state.cut_for_fault(e)
    told = state.told
    state.tell(e, h)
    if not DO[e.kind](state, e, h):
        state.told = told
        return
    if state.histories:
        state.steps.append(Step(e, h, state.open is not None))
    moved = h > state.h + READING_TOLERANCE_H
    state.h = max(state.h, h)
    state.day = e.date or state.day
    state.keep(e, moved=moved)


def _installed_again(state: EngineState, e: LogEvent) -> None:
    early = e.kind == "installed" and not state.installed
    state.installed = True
    state.aside("log-before-installation" if early else "log-installed-twice", e, column="kind")


def _without_exposure(state: EngineState, e: LogEvent, later: list[LogEvent]) -> None:
    begins = any(x.kind == "installed" and (x.hours or 0.0) < (e.hours or 0.0) for x in later)
    early = begins and state.state == "unseen"
    if early:
        state.aside("log-before-installation/ended", e, column="kind")
    elif state.state == "unseen":
        state.aside("log-failure-without-exposure", e, column="kind")
    else:
        state.aside("log-failure-without-exposure/lost", e, column="kind")


def _start(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.state == "out" and h > state.h + SHOP_RUN_H:
        state.find("log-gap", e, last_h=state.h, h=h)
    state.installed = state.installed or e.kind == "installed"
    state.build = e.build or state.build
    state.begin(e, h)
    return True


def _be_in_service(state: EngineState, e: LogEvent, h: float) -> bool:
    """Return whether the engine is in service at an event that supposes so.

    A first event that is not an installation begins observation at its hours; so does the first
    one after the engine was lost sight of. After an overhaul the return may go unwritten.
    """
    if state.state in ("unseen", "lost"):
        state.build = e.build or state.build
        state.begin(e, h)
    elif state.state == "overhauled" and h > state.h + READING_TOLERANCE_H:
        state.find("log-return-not-written", e, column="kind", last_h=state.h)
        state.begin(None, state.h)
    elif state.state in ("out", "overhauled") and h > state.h + SHOP_RUN_H:
        state.find("log-hours-while-removed", e, last_h=state.h, h=h)
        state.begin(e, h)
    return state.open is not None


def _reading(state: EngineState, e: LogEvent, h: float) -> bool:
    _be_in_service(state, e, h)
    if e.build and state.open is not None and fold(e.build) != fold(state.open.build):
        if state.open.build:
            state.find(
                "log-build-changed",
                e,
                column="build",
                new_build=e.build,
                old_build=state.open.build,
            )
        else:
            state.open.build = state.build = e.build
    return True


def _check(state: EngineState, e: LogEvent, h: float) -> bool:
    if _be_in_service(state, e, h) and state.open is not None:
        state.open.good_h.append(h)
    return True


def _fault(state: EngineState, e: LogEvent, h: float) -> bool:
    if _be_in_service(state, e, h):
        state.fault, state.fault_h = e, h
    return True


def _failed(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.open is None:
        if _told_before(state, e, h):
            return False
        state.aside("log-failed-while-removed", e, column="kind", h=h)
        return False
    state.end("failed", h, e, cause=e.cause)
    state.state = "out"
    return True


def removal_ending(cause: str, confirmed: bool | None, settings: Settings) -> str:
    """Say how a life ended by a removal that no finding at a check led to.

    A cause that says that hours or calendar were due makes it planned; one that says nothing of
    the engine's own life makes it removed for another reason. A fault of its own that the shop
    confirmed is a failure, but at the level of power loss, where it came before one. A fault not
    yet confirmed is a removal on a finding, which is counted both ways.
    """
    word, q = fold(cause), settings.question
    if word in PLANNED_CAUSES and word:
        return "planned-overhaul"
    if word in {fold(c) for c in q.censoring_causes} - {fold(c) for c in q.causes}:
        return "removed"
    if confirmed is True:
        return "removed-finding" if q.level == "power-loss" else "failed"
    return "removed-finding" if confirmed is None and names_fault(cause, q) else "removed"


def _told_before(state: EngineState, e: LogEvent, h: float) -> bool:
    """Set aside a second report of the end just told: the same day, or another sender's."""
    last = state.stretches[-1].last if state.stretches else None
    if last is None or last.kind != e.kind or state.state != "out":
        return False
    merge = state.settings.merge
    if not alike_h(h, state.stretches[-1].end_h, merge):
        return False
    if cause_known(e.cause) and cause_known(last.cause) and fold(e.cause) != fold(last.cause):
        return False
    apart = None if e.date is None or last.date is None else abs((e.date - last.date).days)
    if apart != 0 and (fold(e.source) == fold(last.source) or (apart or 0) > merge.days_alike):
        return False
    s = state.stretches[-1]
    s.cause = s.cause if cause_known(s.cause) else e.cause
    s.confirmed = e.confirmed if s.confirmed is None else s.confirmed
    if s.ending in ("removed", "removed-finding"):
        s.ending = removal_ending(s.cause, s.confirmed, state.settings)
    state.aside("log-event-twice", e, column="kind", other=last.origin)
    return True


def _removed(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.open is None:
        if _told_before(state, e, h):
            return False
        state.aside("log-removed-twice", e, column="kind")
        return False
    fault, cause = state.fault, e.cause
    due = bool(cause) and fold(cause) in PLANNED_CAUSES
    follows = (
        fault is not None
        and h - state.fault_h <= state.settings.check.interval_h
        and (
            not cause_known(cause)
            or not cause_known(fault.cause)
            or fold(cause) == fold(fault.cause)
        )
        and not due
    )
    if follows and fault is not None:
        confirmed = fault.confirmed if e.confirmed is None else e.confirmed
        found = confirmed is True
        at = state.fault_h if found and state.fault_h > state.open.start_h else h
        ending = "found-at-check" if found else "removed-finding"
        told_by = fault if at < h else e
        state.end(ending, at, e, cause=cause or fault.cause, told_by=told_by)
        state.stretches[-1].confirmed = confirmed
    else:
        state.end(removal_ending(cause, e.confirmed, state.settings), h, e, cause=cause)
    state.state = "out"
    return True


def _lost(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.open is not None:
        state.end("lost", h, e, cause=e.cause)
        state.state = "lost"
    return True


def _retired(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.open is not None:
        state.end("removed", h, e, cause=e.cause or "retired")
    state.state = "retired"
    return True


def _teardown(state: EngineState, e: LogEvent, _h: float) -> bool:
    if state.open is not None or not state.stretches:
        state.aside("log-teardown-alone", e, column="kind")
        return False
    s = state.stretches[-1]
    s.teardown = e.confirmed
    if e.confirmed is None:
        state.find("log-teardown-unclear", e, column="confirmed")
        return True
    open_question = s.confirmed is None and s.ending in ("removed", "removed-finding", "failed")
    if open_question:
        s.confirmed = e.confirmed
    if e.confirmed and (fold(s.cause) in PLANNED_CAUSES or not cause_known(s.cause)):
        s.cause = e.cause or s.cause
    if open_question and s.ending != "failed":
        s.ending = removal_ending(s.cause, s.confirmed, state.settings)
    return True


def _overhauled(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.open is not None:
        ending = removal_ending(e.cause or "overhaul", e.confirmed, state.settings)
        state.end(ending, h, e, cause=e.cause)
    elif state.stretches:
        if h > state.h + SHOP_RUN_H:
            state.find("log-overhaul-runs-on", e, last_h=state.h, h=h)
        s = state.stretches[-1]
        if s.ending == "removed" and not s.cause and not s.confirmed and not s.teardown:
            s.ending = "planned-overhaul"
    state.renewed_h, state.renewed_day = h, e.date
    state.life = state.life + 1 if state.life >= 0 else -1
    state.restarting = state.settings.hours.log_hours == "since-overhaul"
    state.build = e.build or state.build
    state.state = "overhauled"
    return True


def _modified(state: EngineState, e: LogEvent, h: float) -> bool:
    running = _be_in_service(state, e, h)
    if not e.build:
        state.find("log-build-missing", e, column="build")
        return True
    state.build = e.build
    s = state.open
    if running and s is not None and fold(e.build) != fold(s.build):
        if h - s.start_h <= READING_TOLERANCE_H:
            s.build = e.build
        else:
            state.end("modified", h, e)
            state.begin(e, h)
    return True


def _meter(state: EngineState, e: LogEvent, h: float) -> bool:
    _be_in_service(state, e, h)
    state.offset = h - (e.new_reading_h or 0.0)
    return True


def _part(state: EngineState, e: LogEvent, h: float) -> bool:
    if state.state != "unseen" and (state.open is not None or e.hours is not None):
        _be_in_service(state, e, h)
    return True


DO: dict[str, Callable[[EngineState, LogEvent, float], bool]] = {
    "reading": _reading,
    "check": _check,
    "finding": _fault,
    "unscheduled": _reading,
    "top-overhaul": _reading,
    "failed": _failed,
    "removed": _removed,
    "lost": _lost,
    "teardown": _teardown,
    "part-removed": _part,
    "part-fitted": _part,
    "overhauled": _overhauled,
    "modified": _modified,
    "meter-changed": _meter,
    "returned": _start,
    "installed": _start,
    "retired": _retired,
}
"""What each kind of event does; each returns whether the event could be used."""
