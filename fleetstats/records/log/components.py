"""Lives of components that move between engines, each by its own serial and its own hours."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.log.clock_events import convert_logs
from fleetstats.records.log.fittings import Fitting, find_fittings, find_places
from fleetstats.records.log.log import EngineLog
from fleetstats.records.log.log_state import CLOCKS_AGREE_H, READING_TOLERANCE_H, put_aside
from fleetstats.records.log_event import LogEvent, lines_beside, log_file_of
from fleetstats.records.set_aside import SetAside
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding, Origin
from fleetstats.vocabulary.findings.reasons import say_aside
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import did_you_mean


@value
class ComponentLives(Value):
    """Lives of one kind of component.

    `rows` are lives whose `engine` is the component's serial; the engine that it sat in is under
    ``parts["engine"]``. Each event row of the logs is in one life or in `set_aside`.
    """

    component: str
    places: tuple[str, ...]
    rows: tuple[LifeRow, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]


def replay_components(
    logs: tuple[EngineLog, ...], settings: Settings, component: str
) -> ComponentLives:
    """Return the lives of one kind of component over all engines.

    A part fitted without hours of its own counts as new; a part that was there when the log began
    is as old as the engine if the log begins at 0 h, else its hours are not known and its life is
    set aside, unless ``[treat] component-hours-unknown = "accept"`` takes it for the original.

    Parameters
    ----------
    logs : tuple of EngineLog
        Histories since new, from `replay_log`; those on other meters are converted to the
        commonest, and the lives come out in its hours.
    settings : Settings
        `hours.basis` sets whether an overhaul of the component restarts its clock.
    component : str
        Kind of component, such as ``"turbocharger"``.

    Returns
    -------
    ComponentLives
    """
    component = fold(component)
    meters = Counter(log.meter for log in logs)
    onto = meters.most_common(1)[0][0] if meters else ""
    findings: list[Finding] = []
    refused: list[SetAside] = []
    told = logs
    logs = convert_logs(told, settings, onto=onto)
    kept = {log.engine for log in logs}
    for log in told:
        if log.engine not in kept:
            e = log.steps[0][0]
            findings.append(
                pool_finding("clock-without-factor", e.origin, settings, engine=log.engine,
                             column="meter", value=log.meter, meter=log.meter)
            )  # fmt: skip
            said = findings[-1]
            refused += [put_aside(x, said.code, said.message) for x, _, _ in log.steps]
    findings += _never_named(told, component, settings)
    places = find_places(logs, component)
    fittings: list[Fitting] = []
    for log in logs:
        own, found = find_fittings(log, component, places, settings)
        fittings += own
        findings += found
    by_serial: dict[str, list[Fitting]] = {}
    for i, f in enumerate(fittings):
        by_serial.setdefault(f.key or f"#{i}", []).append(f)
    rows: list[LifeRow] = []
    lines = _Lines(logs)
    for chain in by_serial.values():
        chain.sort(key=lambda f: f.on_date or dt.date.min)
        found = _refuse_two_at_once(chain, component, settings)
        findings += found
        doubtful = next((f for f in found if f.action == "set-aside"), None)
        if doubtful is not None:
            for f in chain:
                lines.drop(f, doubtful.code, doubtful.message)
            continue
        rows += _lives(chain, component, settings, findings, lines)
    return ComponentLives(
        component=component,
        places=places,
        rows=tuple(rows),
        findings=tuple(findings),
        set_aside=(*refused, *lines.left(component)),
    )


def _never_named(logs: tuple[EngineLog, ...], component: str, settings: Settings) -> list[Finding]:
    """Find a component that no event names: a slip of the pen would look like a perfect record."""
    events = [e for log in logs for e, _, _ in log.steps]
    named = sorted({e.component for e in events if e.component})
    blamed = any(e.kind == "failed" and fold(e.cause) == component for e in events)
    if component in named or blamed or not events:
        return []
    hint = did_you_mean(component, named) if named else ""
    first = events[0].origin
    return [
        pool_finding(
            "component-never-named/others" if named else "component-never-named",
            Origin(file=first.file, sheet=first.sheet), settings,
            column="component", value=component, component=component, named=", ".join(named),
            hint=hint if hint.startswith("Did") else "",
        )
    ]  # fmt: skip


class _Lines:
    """Gives each event row to the first life that spans its hours."""

    def __init__(self, logs: tuple[EngineLog, ...]) -> None:
        self.logs = logs
        self.taken: set[int] = set()
        self.dropped: list[SetAside] = []

    def take(self, f: Fitting, low: float, high: float) -> list[LogEvent]:
        out = []
        for e, h, _ in f.log.steps:
            if id(e) not in self.taken and low - READING_TOLERANCE_H <= h <= high:
                self.taken.add(id(e))
                out.append(e)
        return out

    def drop(self, f: Fitting, code: str, message: str) -> None:
        """Set the rows of a fitting aside."""
        high = f.log.stretches[-1][1] if f.off_h is None else f.off_h
        self.dropped += [put_aside(e, code, message) for e in self.take(f, f.on_h, high)]

    def left(self, component: str) -> tuple[SetAside, ...]:
        """Return every row dropped, and those that no life spans."""
        text = say_aside("component-not-concerned", component=component)
        return (
            *self.dropped,
            *(
                put_aside(e, "component-not-concerned", text)
                for log in self.logs
                for e, _, _ in log.steps
                if id(e) not in self.taken
            ),
        )


def _refuse_two_at_once(chain: list[Fitting], component: str, settings: Settings) -> list[Finding]:
    """Find a serial that sits in two places at once; the earlier fitting ends where it must."""
    out: list[Finding] = []
    for a, b in itertools.pairwise(chain):
        moved = b.on_date
        closed = a.off_h is not None and (
            a.off_date is None or moved is None or a.off_date <= moved
        )
        if closed:
            continue
        e = b.event or b.off_event
        where = e.origin if e is not None else Origin(file="")
        related = tuple(str(x.origin) for x in (a.event,) if x is not None)
        out.append(
            pool_finding(
                "component-in-two-engines", where, settings, engine=b.log.engine,
                column="serial", value=b.serial, related=related, component=component,
                serial=b.serial, other=a.log.engine,
            )
        )  # fmt: skip
        seen = [h for x, h, _ in a.log.steps
                if moved is not None and x.date is not None and x.date <= moved]  # fmt: skip
        a.off_h = max([a.on_h, *seen])
        a.ending, a.off_event = "removed", None
    return out


def _lives(
    chain: list[Fitting],
    component: str,
    settings: Settings,
    findings: list[Finding],
    lines: _Lines,
) -> list[LifeRow]:
    rows: list[LifeRow] = []
    age: float | None = None
    zero, life = 0.0, 0
    for f in chain:
        if age is None:
            age = _first_age(f, component, settings, findings)
            if age is None:
                for g in chain:
                    lines.drop(g, "component-hours-unknown", findings[-1].message)
                return rows
        elif f.age_on_h is not None and abs(f.age_on_h - age) > CLOCKS_AGREE_H:
            e = f.event
            findings.append(
                pool_finding(
                    "component-hours-disagree",
                    e.origin if e is not None else Origin(file=""),
                    settings,
                    engine=f.log.engine,
                    column="since_new_hours",
                    value=f.age_on_h,
                    component=component,
                    serial=f.serial,
                    given_h=f.age_on_h,
                    age=age,
                )
            )
        shift = age - f.on_h
        end = f.off_h if f.off_h is not None else f.log.stretches[-1][1]
        cuts = [h for h in f.renewed_h if f.on_h < h < end] if _renews(settings) else []
        for low, high, last in _pieces(f, end, cuts):
            made = _row(f, component, low, high, shift, zero, life, last, lines)
            if made is not None:
                rows.append(made)
            if high in cuts:
                zero, life = high + shift, life + 1
        age += end - f.on_h
    return rows


def _renews(settings: Settings) -> bool:
    return settings.hours.basis == "since-overhaul"


def _first_age(
    f: Fitting, component: str, settings: Settings, findings: list[Finding]
) -> float | None:
    if f.age_on_h is not None:
        return f.age_on_h
    if not f.original:
        return 0.0
    if f.log.from_new:
        return f.on_h
    e = f.off_event or (f.log.steps[0][0] if f.log.steps else None)
    finding = pool_finding(
        "component-hours-unknown",
        e.origin if e is not None else Origin(file=""),
        settings,
        engine=f.log.engine,
        column="since_new_hours",
        component=component,
        on_h=f.on_h,
    )
    findings.append(finding)
    return f.on_h if finding.action == "accept" else None


def _pieces(f: Fitting, end: float, cuts: list[float]) -> list[tuple[float, float, bool]]:
    """Return the stretches of a fitting under observation; those that touch are one."""
    pieces: list[tuple[float, float]] = []
    for start, stop, *_ in f.log.stretches:
        low, high = max(start, f.on_h), min(stop, end)
        if high - low <= READING_TOLERANCE_H:
            continue
        if pieces and low - pieces[-1][1] <= READING_TOLERANCE_H:
            pieces[-1] = (pieces[-1][0], high)
        else:
            pieces.append((low, high))
    out: list[tuple[float, float, bool]] = []
    for low, high in pieces:
        edges = [low, *(c for c in cuts if low < c < high), high]
        out += [(a, b, False) for a, b in itertools.pairwise(edges)]
    if out:
        out[-1] = (*out[-1][:2], True)
    return out


def _row(
    f: Fitting,
    component: str,
    low: float,
    high: float,
    shift: float,
    zero: float,
    life: int,
    last: bool,
    lines: _Lines,
) -> LifeRow | None:
    events = lines.take(f, low, high)
    final = f.off_event if last and f.off_event is not None else (events[-1] if events else None)
    ending = f.ending if last else ("planned-overhaul" if high in f.renewed_h else "running")
    if last and ending == "running" and f.log.stretches[-1][5] == "lost":
        ending = "lost"
    # Each row is in one life, but it tells of every part that the engine then had.
    seen = [x for x, h, _ in f.log.steps if low - READING_TOLERANCE_H <= h <= high]
    e = final or f.event or (seen[-1] if seen else None)
    good = f.good_h if f.good_h is not None and low <= f.good_h < high else None
    build = next((b for s, t, _, _, b, _ in f.log.stretches if s <= low < t), "")
    name = f.serial or f"{f.log.engine} {component} {f.position}".strip()
    day = next((x.date for x in reversed(seen) if x.date is not None), None)
    origin = e.origin if e is not None else Origin(file="")
    return LifeRow(
        origin=origin,
        **lines_beside(origin, events),
        log_file=log_file_of(x for x, _, _ in f.log.steps),
        engine=name if f.original or f.serial else f"{name} from {f.on_h:g} h",
        source=f.log.source,
        build=build,
        entry_h=low + shift - zero,
        exit_h=high + shift - zero,
        last_good_h=None if good is None else good + shift - zero,
        life_start_h=zero,
        life=life,
        ending=ending,
        cause=f.cause if last else "",
        confirmed=f.confirmed if last else None,
        meter=f.log.meter,
        observed_from=f.on_date,
        last_reading=day if ending == "running" else None,
        ended=None if ending == "running" else (f.off_date or day),
        parts={"engine": f.log.engine, "position": f.position},
    )
