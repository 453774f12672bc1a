"""Logs: rows of events become lives.

`replay_log` replays each engine's events to the lives, on the basis that the study asks for.
Every event taken in is in a life or set aside.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.log.log_replay import replay_engine
from fleetstats.records.log.log_state import READING_TOLERANCE_H, EngineState, Stretch, put_aside
from fleetstats.records.log_event import LogEvent, lines_beside, log_file_of, place_of
from fleetstats.records.set_aside import SetAside
from fleetstats.records.told_values import moved
from fleetstats.records.treated import log_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings.reasons import say_aside
from fleetstats.vocabulary.ids import normalise_id


@value
class EngineLog(Value):
    """One engine's log on the clock of hours since new, for parts and for recurrent events.

    Hours are those of `meter` until `clock_events.convert_logs` makes them standard.

    Parameters
    ----------
    stretches : tuple of (start_h, end_h, life, renewed_h, build, ending)
        Hours since new in service under observation; `renewed_h` is when the life began.
    steps : tuple of (event, hours, in_service)
        Events used, each with its hours since new.
    from_new : bool
        Whether the log begins when the engine was new.
    """

    engine: str
    source: str
    meter: str
    stretches: tuple[tuple[float, float, int, float, str, str], ...]
    steps: tuple[tuple[LogEvent, float, bool], ...]
    from_new: bool


@value
class Replay(Value):
    """What a log tells: lives, findings, and what became of each row.

    Parameters
    ----------
    rows : tuple of LifeRow
        Lives on the study's basis, in the hours of the events.
    findings : tuple of Finding
        What was odd; `action` says what was done about it.
    set_aside : tuple of SetAside
        Rows that are in no life, with their reasons.
    logs : tuple of EngineLog
        Each engine's history since new, for parts and recurrent events; none if not asked for.
    n_read : int
        Events taken in: rows in lives plus rows set aside.
    """

    rows: tuple[LifeRow, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]
    logs: tuple[EngineLog, ...]
    n_read: int

    @property
    def n_used(self) -> int:
        """Return the number of rows that are in a life."""
        return sum(len(r.lines) for r in self.rows)


def replay_log(
    events: tuple[LogEvent, ...], settings: Settings, *, histories: bool = True
) -> Replay:
    """Replay a log of many engines to lives.

    Parameters
    ----------
    events : tuple of LogEvent
        Events of one log, in its order; it may go over several files.
    settings : Settings
        `hours.basis` and `hours.log_hours` set the clock, `question.level` and
        `check.interval_h` the meaning of findings, `treat` what is done about contradictions:
        ``"set-aside"`` leaves out the row that contradicts the others; where no single row does,
        every row of the engine.
    histories : bool
        Whether each engine's history is kept in `logs`, which lives do not need.

    Returns
    -------
    Replay
        In it, ``n_read == n_used + len(set_aside)`` always.
    """
    ids = {x: normalise_id(x) for x in {e.engine for e in events}}
    by_engine: dict[str, list[LogEvent]] = {}
    for e in events:
        by_engine.setdefault(ids[e.engine], []).append(e)
    one_file = len({e.origin.file for e in events}) < 2
    rows: list[LifeRow] = []
    findings: list[Finding] = []
    aside: list[SetAside] = []
    logs: list[EngineLog] = []
    for own in by_engine.values():
        state = replay_engine(own, settings, histories=histories)
        lives, more = _lives(state, settings, "" if one_file else log_file_of(own))
        found = [*state.findings, *more]
        if not found and _all_kept(lives, own):
            rows += lives
            if histories:
                logs.append(_engine_log(state, own))
            continue
        single = {(s.file, s.sheet, s.row) for s in state.set_aside}
        doubtful = next(
            (
                f
                for f in found
                if f.action == "set-aside" and (f.file, f.sheet, f.row) not in single
            ),
            None,
        )
        kept = {line for r in lives for line in r.lines}
        if doubtful is not None:
            lives = []
            kept = set()
        listed = set(single)
        aside += state.set_aside
        for e in own:
            at = (*place_of(e), e.row)
            if at in kept or at in listed:
                continue
            listed.add(at)
            if doubtful is not None:
                text = say_aside("log-engine", engine=e.engine, message=doubtful.message)
                aside.append(put_aside(e, doubtful.code, text))
            else:
                aside.append(put_aside(e, "log-no-exposure", say_aside("log-no-exposure")))
        if not lives and not found:
            findings.append(log_finding("log-no-exposure", own[-1], settings))
        rows += lives
        findings += found
        if lives and histories:
            logs.append(_engine_log(state, own))
    return Replay(
        rows=tuple(rows),
        findings=tuple(findings),
        set_aside=tuple(aside),
        logs=tuple(logs),
        n_read=len(events),
    )


def _all_kept(lives: list[LifeRow], own: list[LogEvent]) -> bool:
    """Return whether lives are known to hold every row of an engine, as nearly all do."""
    here = {n for r in lives for n in r.rows}
    # a life tells of no row but these: as many different ones are all of them
    return len(here) == len(own)


def _lives(
    state: EngineState, settings: Settings, log_file: str
) -> tuple[list[LifeRow], list[Finding]]:
    """Return the lives of an engine's stretches; a stretch without hours gives its rows away."""
    findings: list[Finding] = []
    since_overhaul = settings.hours.basis == "since-overhaul"
    if not since_overhaul and not state.since_new_known and state.stretches:
        e = state.stretches[0].events[0]
        findings.append(log_finding("log-since-new-unknown", e, settings))
    findings += [
        log_finding("log-removal-unexplained", s.last, settings, column="cause")
        for s in state.stretches
        if s.ending == "removed" and s.last and not s.cause and s.confirmed is None
    ]
    lives: list[LifeRow] = []
    carried: list[LogEvent] = []
    zeros = _days_of_zero(state, since_overhaul)
    for s in state.stretches:
        s.events = [*carried, *s.events]
        carried = []
        if s.end_h - s.start_h <= READING_TOLERANCE_H:
            carried = s.events
            if s.ending in (*FAILING_ENDINGS, "removed-finding") and s.last is not None:
                state.aside("log-failure-without-exposure/at-once", s.last, column="kind")
                carried = [e for e in carried if e is not s.last]
                state.steps = [t for t in state.steps if t.event is not s.last]
            continue
        lives.append(_life(s, since_overhaul, zeros, log_file))
    if carried and lives:
        last = lives[-1]
        more = lines_beside(last.origin, carried)
        lives[-1] = replace(
            last,
            rows=last.rows + more["rows"],
            elsewhere=last.elsewhere + more["elsewhere"],
        )
    return lives, findings


def _days_of_zero(
    state: EngineState, since_overhaul: bool
) -> dict[tuple[int, float], dt.date | None]:
    """Return the day at which each clock of the study stood at 0, where the log shows it.

    Where hours count since overhaul each life has a clock, else the engine has one.
    """
    out: dict[tuple[int, float], dt.date | None] = {}
    for s in state.stretches:
        clock = _clock(s, since_overhaul)
        if clock not in out:
            shown = s.start_h - clock[1] <= READING_TOLERANCE_H
            out[clock] = s.zero_day if shown else None
    return out


def _clock(s: Stretch, since_overhaul: bool) -> tuple[int, float]:
    """Return the clock that a stretch is counted on: its life, and its zero in hours since new."""
    return (s.life, s.renewed_h) if since_overhaul else (0, 0.0)


def _life(
    s: Stretch,
    since_overhaul: bool,
    zeros: dict[tuple[int, float], dt.date | None],
    log_file: str,
) -> LifeRow:
    clock = _clock(s, since_overhaul)
    zero = clock[1]
    first, last = s.events[0], s.last or s.events[-1]
    start = zeros.get(clock)
    good = [g for g in s.good_h if s.start_h <= g < s.end_h or s.ending not in FOUND]
    running = s.ending == "running"
    return LifeRow(
        origin=last.origin,
        **lines_beside(last.origin, s.events),
        log_file=log_file,
        engine=first.engine,
        source=first.source or next((e.source for e in s.events if e.source), ""),
        build=s.build,
        entry_h=s.start_h - zero,
        exit_h=s.end_h - zero,
        exit_low_h=None if s.low_h is None else max(s.low_h - zero, 0.0),
        last_good_h=max(good) - zero if good else None,
        life_start_h=zero,
        life=s.life,
        ending=s.ending,
        cause=s.cause,
        confirmed=s.confirmed,
        meter=first.meter or next((e.meter for e in s.events if e.meter), ""),
        in_service=start,
        observed_from=s.started,
        last_reading=s.ended if running else None,
        ended=None if running else s.ended,
        coarse=_spans(s, start),
        found_at_teardown=s.teardown,
        note=s.note,
        entry_told=True,
        categories=moved(s.told, less=zero),
    )


def _spans(s: Stretch, start: dt.date | None) -> dict[str, tuple[dt.date, dt.date]]:
    """Return the spans of those dates of a life that were told as such."""
    for event in s.events:
        if event.days is not None:
            break
    else:  # as of nearly all lives
        return {}
    begun = next((e for e in s.events if e.date == start), None) if start else None
    end = "last_reading" if s.ending == "running" else "ended"
    told = {"in_service": [begun] if begun else [], "observed_from": s.events, end: s.events[::-1]}
    days = {"in_service": begun.date if begun else None, "observed_from": s.started, end: s.ended}
    out: dict[str, tuple[dt.date, dt.date]] = {}
    for name, events in told.items():
        e = next((e for e in events if e.date is not None and e.date == days[name]), None)
        if e is not None and e.days is not None:
            out[name] = e.days
    return out


FOUND = ("found-at-check", "failed")
"""Endings for which a check at the very end says nothing."""


def _engine_log(state: EngineState, own: list[LogEvent]) -> EngineLog:
    first = state.stretches[0] if state.stretches else None
    return EngineLog(
        engine=own[0].engine,
        source=next((e.source for e in own if e.source), ""),
        meter=next((e.meter for e in own if e.meter), ""),
        stretches=tuple(
            (s.start_h, s.end_h, s.life, s.renewed_h, s.build, s.ending)
            for s in state.stretches
            if s.end_h - s.start_h > READING_TOLERANCE_H
        ),
        steps=tuple((t.event, t.hours, t.in_service) for t in state.steps),
        from_new=first is not None and first.start_h <= READING_TOLERANCE_H and first.life == 0,
    )
