"""Which sources told of each life, and which of them list its engine: read back from the merging.

A merged life stands at the row that was kept; the trace says which rows went into it. What a source
told is judged by the row as it stood in that source's return, not by what the merging made of it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleetstats.core.kept import kept
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """What each source told.

    Parameters
    ----------
    alone : mapping
        Each row's place, as text, to the row as it stood in its return.
    merged : mapping
        The place of each life that was merged of several rows to all of these.
    listed : mapping
        Each source to the engines that it lists, each with the rows of that source.
    """

    alone: Mapping[str, LifeRow]
    merged: Mapping[str, tuple[LifeRow, ...]]
    listed: Mapping[str, Mapping[str, tuple[LifeRow, ...]]]

    def reports_of(self, life: LifeRow) -> tuple[LifeRow, ...]:
        """Return the rows of all returns that tell of a life."""
        here = str(life.origin)
        if (several := self.merged.get(here)) is not None:
            return several
        return (self.alone[here],) if here in self.alone else ()

    def latest(self, source: str) -> dt.date | None:
        """Return the last day of which a source tells; None where it gives no dates."""
        dates = [d for rows in self.listed[source].values() for r in rows if (d := r.last_date)]
        return max(dates, default=None)


def source_of(row: LifeRow) -> str:
    """Return who told a row: its source, else its file."""
    return row.source or row.origin.file


def read_telling(records: Records) -> Telling:
    """Return what each source told, from the rows as they were before merging; worked out once."""
    return kept(records, "telling", lambda: _read(records))


def _read(records: Records) -> Telling:
    raw = [r for reading in records.readings for r in reading.rows if r.count == 1]
    own = [str(r.origin) for r in raw]
    alone = dict(zip(own, raw, strict=True))
    into: dict[str, list[str]] = {}
    for step in () if records.merged is None else records.merged.trace:
        if step.merged:
            into.setdefault(step.kept, []).append(step.merged)
    merged: dict[str, tuple[LifeRow, ...]] = {}
    named: dict[str, str] = {}
    for life in records.rows:
        here = str(life.origin)
        if here not in into:  # as most lives: it is one row, and named as that is
            row = alone.get(here)
            if row is None or row.engine_id != life.engine_id or here in named:
                named[here] = life.engine_id
            continue
        places = list(_all_into(here, into))
        merged[here] = tuple(alone[p] for p in places if p in alone)
        # a row merged under a decision, or of an engine split in two, goes by its life's name
        named.update(dict.fromkeys(places, life.engine_id))
    return Telling(alone=alone, merged=merged, listed=_listed(own, raw, named))


def _listed(
    places: Iterable[str], rows: Iterable[LifeRow], named: Mapping[str, str]
) -> dict[str, dict[str, tuple[LifeRow, ...]]]:
    """Return the rows by source and engine; at some places an engine is named otherwise."""
    out: dict[str, dict[str, tuple[LifeRow, ...]]] = {}
    further: dict[tuple[str, str], list[LifeRow]] = {}
    for place, r in zip(places, rows, strict=True):
        source, engine = source_of(r), named.get(place, r.engine_id)
        mine = out.setdefault(source, {})
        if engine in mine:  # of most engines a source has one row
            further.setdefault((source, engine), []).append(r)
        else:
            mine[engine] = (r,)
    for (source, engine), more in further.items():
        out[source][engine] += tuple(more)
    return out


def _all_into(place: str, into: Mapping[str, Iterable[str]]) -> Iterable[str]:
    """Yield a row's place and those of all rows merged into it, directly or by another."""
    seen, ahead = {place}, [place]
    while ahead:
        here = ahead.pop()
        yield here
        more = [p for p in into.get(here, ()) if p not in seen]
        seen.update(more)
        ahead += more
