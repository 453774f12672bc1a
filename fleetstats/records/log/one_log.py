"""Logs that go over several files: which events of one source are replayed together.

A shop that begins a new file each year keeps one log. Replayed file by file, the hours between the
last row of one file and the first of the next would be nobody's.
"""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.records.log_event import REPEATABLE, LogEvent, place_of
from fleetstats.records.reading import Reading
from fleetstats.vocabulary.fold import fold


def join_logs(
    readings: Sequence[Reading], shapes: tuple[str, ...] = ("log",)
) -> list[tuple[LogEvent, ...]]:
    """Return the events of logs, those of one log together.

    Logs of one named source are one, in the order of their files. But an engine of which two of
    them tell the same event is told in two reports, such as a list sent anew: these are replayed
    each by itself, and merged as returns are.

    Parameters
    ----------
    readings : sequence of Reading
        Files read.
    shapes : tuple of str
        Those of other shapes are passed over; each file of histories is a log of its own.

    Returns
    -------
    list of tuple of LogEvent
        Each event is in one tuple; an engine may be in several.
    """
    by_source: dict[str, list[Reading]] = {}
    for i, r in enumerate(readings):
        if r.shape in shapes:
            named = fold(r.source) if r.shape == "log" else ""
            by_source.setdefault(named or f"#{i}", []).append(r)
    out: list[tuple[LogEvent, ...]] = []
    for group in by_source.values():
        out += _parted(group)
    return out


def _parted(group: Sequence[Reading]) -> list[tuple[LogEvent, ...]]:
    if len(group) == 1:
        return [group[0].events]
    by_engine: dict[str, dict[int, list[LogEvent]]] = {}
    for i, r in enumerate(group):
        for e in r.events:
            by_engine.setdefault(e.engine_id, {}).setdefault(i, []).append(e)
    told_twice = {k for k, files in by_engine.items() if _repeats(list(files.values()))}
    parts: list[list[LogEvent]] = [[] for _ in group]
    for i, r in enumerate(group):
        for e in r.events:
            parts[i if e.engine_id in told_twice else 0].append(e)
    return [tuple(p) for p in parts if p]


def _repeats(files: list[list[LogEvent]]) -> bool:
    seen: set[tuple[object, ...]] = set()
    for events in files:
        own = {_told(e) for e in events if e.kind not in REPEATABLE}
        if own & seen:
            return True
        seen |= own
    return False


def _told(e: LogEvent) -> tuple[object, ...]:
    when = e.hours if e.date is None else e.date
    # without date or hours no event is known to be the same as another
    at = (*place_of(e), e.row) if when is None else when
    return e.kind, at, e.component, fold(e.position), fold(e.serial)
