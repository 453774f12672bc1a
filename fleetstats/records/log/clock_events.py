"""Log events of one engine on one meter: a second one is anchored where both were read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.clocks.clocks import Factor, own_by_engine, stated_factors
from fleetstats.records.log.log import EngineLog
from fleetstats.records.log.log_state import put_aside
from fleetstats.records.log_event import LogEvent
from fleetstats.records.set_aside import SetAside
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.ids import normalise_id

HOUR_FIELDS = ("hours", "since_new_h", "since_overhaul_h", "new_reading_h")


@value
class AlignedEvents(Value):
    """Events with one meter to an engine, findings, and the rows whose hours have no factor."""

    events: tuple[LogEvent, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]


def align_events(
    events: Iterable[LogEvent],
    settings: Settings,
    *,
    at: str = "factor",
    own: tuple[Factor, ...] = (),
) -> AlignedEvents:
    """Put the readings of each engine on one meter; `convert_clock` does the rest.

    An engine read on two meters follows one of them, the standard one if it is among them. A
    reading of the other is placed by the nearest day on which both were read, and by the ratio of
    the factors from there; without such a day both are taken to have started together, and a
    finding says so.

    Parameters
    ----------
    events : iterable of LogEvent
        Events in the hours of their meters; a blank meter is the standard one.
    settings : Settings
        The standard clock and the stated factors with their ranges.
    at : {"low", "factor", "high"}
        Where in their ranges the factors are taken.
    own : tuple of Factor
        Factors of single engines, which go before the stated ones.
    """
    stated, mine = stated_factors(settings), own_by_engine(own)
    standard = settings.hours.meter
    events = tuple(events)
    if {e.meter for e in events} == {standard}:
        return AlignedEvents(events=events, findings=(), set_aside=())
    by_engine: dict[str, list[LogEvent]] = {}
    order: dict[int, int] = {}
    for i, e in enumerate(events):
        order[id(e)] = i
        by_engine.setdefault(e.engine_id, []).append(e)
    out: list[tuple[int, LogEvent]] = []
    findings: list[Finding] = []
    aside: list[SetAside] = []
    for engine, mixed in by_engine.items():
        meters = list(dict.fromkeys(e.meter or standard for e in mixed if e.hours is not None))
        main = standard if standard in meters or not meters else meters[0]
        anchors = _anchors(mixed, main, standard)
        told: set[str] = set()
        for e in mixed:
            meter = e.meter or standard
            if meter == main:
                out.append((order[id(e)], e if e.meter == main else replace(e, meter=main)))
                continue
            f = mine.get((engine, meter)) or stated.get(meter)
            base = mine.get((engine, main)) or stated.get(main)
            if f is None or base is None:
                findings.append(
                    pool_finding(
                        "clock-without-factor/two-meters", e.origin, settings,
                        engine=e.engine, column="meter", value=meter, main=main, meter=meter,
                    )
                )  # fmt: skip
                aside.append(put_aside(e, findings[-1].code, findings[-1].message))
                continue
            k = f.at(at) / base.at(at)
            placed = replace(_scaled(e, k), meter=main)
            near = _nearest(anchors.get(meter, []), e)
            if near is not None and e.hours is not None:
                placed = replace(placed, hours=near[1] + (e.hours - near[0]) * k)
            elif e.hours is not None and meter not in told:
                told.add(meter)
                findings.append(
                    pool_finding("clock-started-together", e.origin, settings, engine=e.engine,
                                 column="meter", value=meter, main=main, meter=meter)
                )  # fmt: skip
            out.append((order[id(e)], placed))
    out.sort(key=lambda pair: pair[0])
    return AlignedEvents(
        events=tuple(e for _, e in out), findings=tuple(findings), set_aside=tuple(aside)
    )


def _scaled(e: LogEvent, k: float) -> LogEvent:
    if k == 1.0:
        return e
    hours = {n: getattr(e, n) for n in HOUR_FIELDS if getattr(e, n) is not None}
    doubt = None if e.doubt_h is None else (e.doubt_h[0] * k, e.doubt_h[1] * k)
    return replace(e, doubt_h=doubt, **{n: h * k for n, h in hours.items()})


def _anchors(
    events: list[LogEvent], main: str, standard: str
) -> dict[str, list[tuple[float, float]]]:
    """Return, by meter, the pairs (its reading, the main meter's reading) of one day."""
    main_on = {
        e.date: e.hours
        for e in events
        if e.date is not None and e.hours is not None and (e.meter or standard) == main
    }
    out: dict[str, list[tuple[float, float]]] = {}
    for e in events:
        there = None if e.date is None else main_on.get(e.date)
        if e.hours is not None and (e.meter or standard) != main and there is not None:
            out.setdefault(e.meter, []).append((e.hours, there))
    return out


def _nearest(anchors: list[tuple[float, float]], e: LogEvent) -> tuple[float, float] | None:
    if not anchors or e.hours is None:
        return None
    hours = e.hours
    return min(anchors, key=lambda a: abs(a[0] - hours))


def convert_logs(
    logs: Iterable[EngineLog],
    settings: Settings,
    *,
    at: str = "factor",
    own: tuple[Factor, ...] = (),
    onto: str = "",
) -> tuple[EngineLog, ...]:
    """Return engine logs in hours of one meter; those without a factor are left out.

    Parameters
    ----------
    logs : iterable of EngineLog
        Logs in hours of their own meters; a blank meter is the standard one.
    settings : Settings
        The standard clock and the stated factors with their ranges.
    at : {"low", "factor", "high"}
        Where in their ranges the factors are taken.
    own : tuple of Factor
        Factors of single engines, which go before the stated ones.
    onto : str
        Meter whose hours are wanted; the standard one when blank.
    """
    stated, mine = stated_factors(settings), own_by_engine(own)
    standard = settings.hours.meter
    out: list[EngineLog] = []
    for log in logs:
        meter = log.meter or standard
        to = onto or standard
        if meter == to:
            out.append(log)
            continue
        f = mine.get((normalise_id(log.engine), meter)) or stated.get(meter)
        base = stated.get(to)
        if f is None or base is None:
            continue
        k = f.at(at) / base.at(at)
        stretches = tuple(
            (s * k, t * k, life, r * k, build, ending)
            for s, t, life, r, build, ending in log.stretches
        )
        steps = tuple((_scaled(e, k), h * k, on) for e, h, on in log.steps)
        out.append(replace(log, meter=to, stretches=stretches, steps=steps))
    return tuple(out)
