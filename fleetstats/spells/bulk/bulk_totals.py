"""Totals and signatures among the rows of a chunk, by the rule that whole tables are held to."""

from __future__ import annotations

from typing import Any

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.hours import to_hours
from fleetstats.records.lives.life_reader import LifeReader
from fleetstats.records.rows.totals import ColumnSums, TotalLine, summed_hours
from fleetstats.tables.chunks import Chunk
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.totals import pattern_of_totals

PATTERN = pattern_of_totals()


def find_totals(chunk: Chunk, reader: LifeReader, sums: ColumnSums) -> dict[int, TotalLine]:
    """Return the rows of a chunk that may be totals, by their lines.

    Parameters
    ----------
    chunk : Chunk
        Some rows of the table.
    reader : LifeReader
        Whose judge and whose parser of hours decide.
    sums : ColumnSums
        Of the chunks before; goes on.
    """
    judge, at = reader.totals, reader.match.index
    rows = {o.row.row: o.row for o in chunk.others}
    engine_at, hours_at = at["engine"], at["exit_hours"]
    seen = np.flatnonzero(chunk.unlike_ids(engine_at, PATTERN))
    rows |= {r.row: r for r in chunk.raw_rows(seen.tolist())}
    look_at = {n for n, r in rows.items() if judge.looks(r.cells[engine_at])}
    extra = np.array([o.row.row for o in chunk.others], dtype=np.int64)
    lines = np.concatenate([chunk.lines, extra])
    own = [_parse(reader, o.row.cells[hours_at]) for o in chunk.others]
    hours = np.concatenate([_hours(chunk, hours_at, reader), np.array(own, dtype=np.float64)])
    order = np.argsort(lines, kind="stable")
    place = lines[order]

    def row(k: int) -> RawRow:
        n = int(place[k])
        if n not in rows:
            rows[n] = chunk.raw_rows([int(order[k])])[0]
        return rows[n]

    look = np.isin(place, np.array(sorted(look_at), dtype=np.int64))
    found = sums.walk(hours[order], look, lambda k, n: judge.why(row(k), n))
    return {int(place[k]): line for k, line in found.items()}


def _parse(reader: LifeReader, cell: Any) -> float:
    return summed_hours(cell, reader.decimal, reader.settings.hours.unit)


def _hours(chunk: Chunk, at: int, reader: LifeReader) -> Array:
    """Return (n,) hours of the column; NaN where a cell has none that can be read."""
    numbers = chunk.numbers(at, reader.decimal)
    if numbers is None:
        coded = chunk.coded(at)
        return np.array([_parse(reader, c) for c in coded.cells], dtype=np.float64)[coded.codes]
    hours = np.array(to_hours(numbers.values, reader.settings.hours.unit))
    odd = np.flatnonzero(numbers.odd)
    if len(odd):
        hours[odd] = [_parse(reader, r.cells[at]) for r in chunk.raw_rows(odd.tolist())]
    return hours
