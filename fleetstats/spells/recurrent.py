"""Logs to histories: the events that come again, with the hours in which they could be seen."""

from __future__ import annotations

from collections import Counter

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Value, value
from fleetstats.records.log.clock_events import convert_logs
from fleetstats.records.log.log import EngineLog, replay_log
from fleetstats.records.log.log_state import PART_KINDS
from fleetstats.records.log.one_log import join_logs
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Records
from fleetstats.records.treated import log_finding
from fleetstats.spells.histories import Histories
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.events import PLANNED_CAUSES
from fleetstats.vocabulary.finding import Finding, Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling

COUNTED = {
    "finding": "finding",
    "unscheduled": "unscheduled",
    "top-overhaul": "top-overhaul",
    "failed": "failed",
    "removed": "unscheduled removal",
    "part-removed": "part changed",
    "part-fitted": "part changed",
}
"""Events that are counted, and what they are called; the rest are no trouble of the engine's."""

MOMENT_H = 0.5
"""A part taken off and one put on within this are one change."""


@value
class HistoryBuild(Value):
    """Histories, and what could not become part of them.

    Parameters
    ----------
    histories : Histories or None
        None where no log tells of any hours.
    findings : tuple of Finding
        Events outside the hours watched, and engines told by two logs.
    n_outside : int
        Events left out since they fell outside the hours watched.
    has_costs : bool
        Whether any event counted has a cost.
    """

    histories: Histories | None
    findings: tuple[Finding, ...]
    n_outside: int
    has_costs: bool


def build_histories(
    records: Records, settings: Settings, *, component: str = "", at: str = "factor"
) -> HistoryBuild:
    """Build the histories of all engines that logs tell of.

    Parameters
    ----------
    records : Records
        Its `readings` hold the events of each log.
    settings : Settings
        `hours.basis` sets the clock: since overhaul, each life is a unit of its own.
    component : str
        Count only events of this kind of component; empty for all.
    at : {"low", "factor", "high"}
        Where in their ranges clock factors are taken.

    Returns
    -------
    HistoryBuild
        Removals that were planned, or for a cause that says nothing of the engine, are not
        counted. A part changed is one event, however many rows it takes. An event without a cost
        costs nothing where others have one, and counts 1 where none has.
    """
    logs: list[EngineLog] = []
    findings: list[Finding] = []
    seen: dict[str, int] = {}
    for events in join_logs(records.readings, ("log", "histories")):
        replay = replay_log(events, settings)
        for log in convert_logs(replay.logs, settings, at=at, own=records.factors):
            key = log.steps[0][0].engine_id
            twin = seen.get(key)
            if twin is None:
                seen[key] = len(logs)
                logs.append(log)
                continue
            kept, left = (log, logs[twin]) if _watched(log) > _watched(logs[twin]) else (
                logs[twin], log)  # fmt: skip
            logs[twin] = kept
            findings.append(
                log_finding(
                    "log-engine-twice",
                    left.steps[0][0],
                    settings,
                    column="engine",
                    name=log.engine,
                )
            )
    return _collect(logs, settings, fold(component), findings)


def _watched(log: EngineLog) -> float:
    return sum(s[1] - s[0] for s in log.stretches)


def _collect(
    logs: list[EngineLog], settings: Settings, component: str, findings: list[Finding]
) -> HistoryBuild:
    since_overhaul = settings.hours.basis == "since-overhaul"
    unit: list[str] = []
    start: list[float] = []
    end: list[float] = []
    source: list[str] = []
    build: list[str] = []
    places: list[Origin] = []
    told: list[tuple[str, float, float | None, str]] = []
    outside = 0
    for log in logs:
        windows: list[tuple[str, float, float, float]] = []
        for low, high, _, renewed, name, _ in log.stretches:
            zero = renewed if since_overhaul else 0.0
            label = f"{log.engine} from {renewed:g} h" if zero else log.engine
            windows.append((label, low, high, zero))
            unit.append(label)
            start.append(low - zero)
            end.append(high - zero)
            source.append(log.source)
            build.append(name)
            places.append(log.steps[0][0].origin)
        for e, h, cost in _counted(log, settings, component):
            place = next((w for w in windows if w[1] + 1e-6 < h <= w[2]), None)
            if place is None:
                outside += 1
                findings.append(
                    log_finding("log-event-outside", e, settings, column="hours", kind=e.kind, h=h)
                )
                continue
            told.append((place[0], h - place[3], cost, COUNTED[e.kind]))
    has_costs = any(cost is not None for _, _, cost, _ in told)
    histories = None
    if unit:
        default = 0.0 if has_costs else 1.0
        try:
            histories = Histories.of(
                unit,
                start,
                end,
                [u for u, _, _, _ in told],
                [h for _, h, _, _ in told],
                event_cost=[default if c is None else c for _, _, c, _ in told],
                event_kind=[k for _, _, _, k in told],
                source=_spelled(source),
                build=_spelled(build),
            )
        except SpellError as error:
            raise error.at(places) from None
    return HistoryBuild(
        histories=histories, findings=tuple(findings), n_outside=outside, has_costs=has_costs
    )


def _spelled(words: list[str]) -> list[str]:
    """Return labels with one spelling to each."""
    shown = one_spelling(Counter(words))
    return [shown[fold(w)] for w in words]


def _counted(
    log: EngineLog, settings: Settings, component: str
) -> list[tuple[LogEvent, float, float | None]]:
    """Return the events of one log that count, with hours and cost; a changed part is one."""
    begin = log.stretches[0][0] if log.stretches else 0.0
    out: list[tuple[LogEvent, float, float | None]] = []
    neutral = {fold(c) for c in settings.question.censoring_causes}
    for e, h, _ in log.steps:
        if e.kind not in COUNTED or (component and e.component != component):
            continue
        if e.kind == "removed" and not _unscheduled(e, neutral):
            continue
        if e.kind in PART_KINDS:
            if h <= begin + MOMENT_H:
                continue
            twin = next((i for i, (x, g, _) in enumerate(out) if _one_change(x, g, e, h)), None)
            if twin is not None:
                x, g, cost = out[twin]
                both = [c for c in (cost, e.cost) if c is not None]
                out[twin] = (x, g, sum(both) if both else None)
                continue
        out.append((e, h, e.cost))
    return out


def _one_change(a: LogEvent, at: float, b: LogEvent, h: float) -> bool:
    return (
        a.kind in PART_KINDS
        and a.kind != b.kind
        and (a.component, a.position) == (b.component, b.position)
        and abs(at - h) <= MOMENT_H
    )


def _unscheduled(e: LogEvent, neutral: set[str]) -> bool:
    cause = fold(e.cause)
    return bool(cause) and cause not in PLANNED_CAUSES and cause not in neutral
