"""Events of a log read by whole columns: rows of which no cell calls for a look at the row.

Most rows of a log say plainly what they say. Each different text of a column is read once, by the
reading that reads it row by row; a row with any cell that is refused, read from words, too long,
not printable or a sign of a line that is no event is left to that reading.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Collection, Sequence
from itertools import chain, repeat
from typing import Any

from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.log_event import LogEvent
from fleetstats.records.rows.many import make_many
from fleetstats.records.rows.meaning import Meaning
from fleetstats.records.rows.reader import RowReader
from fleetstats.tables.cells import CellError, text
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.tables.memo import texts_of
from fleetstats.tables.table import MAX_TEXT, RawTable
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

ODD = object()
"""What a cell tells whose row has to be looked at."""

HOUR_COLUMNS = {
    "since_new_h": "since_new_hours",
    "since_overhaul_h": "since_overhaul_hours",
    "new_reading_h": "new_reading_hours",
}
"""Fields of an event whose columns have other names."""

READ_AS_TOLD = (
    "engine", "kind", "hours", "date", "cause", "confirmed", "serial", "build", "meter", "source",
    "cost", "note",
)  # fmt: skip
"""Fields of an event that are what the column of that name tells."""

Told = dict[str, Any]
"""What rows tell by our names: a list with one value a row, or `repeat` of what all tell."""


def read_plain_events(
    table: RawTable, reader: RowReader, categories: Collection[str], totals: Collection[int]
) -> list[LogEvent | None]:
    """Return the event of each row of a log; None where the row has to be read by itself.

    Parameters
    ----------
    table : RawTable
        The log.
    reader : RowReader
        The reading of its rows.
    categories : collection of str
        Columns of words about the engine.
    totals : collection of int
        Places of rows that may be totals.

    Notes
    -----
    No event hangs on another row: a place that is spelled in two ways is left to their order.
    """
    rows = table.rows
    cells = [r.cells for r in rows]
    odd = {*totals, *_marked(table)}
    told: Told = {}
    for m, at, memo in reader.steps:
        if memo is None or (at is None and m.missing):
            return [None] * len(rows)
        if at is None:
            told[m.name] = repeat(m.blank)
            continue
        told[m.name], strange = _column(m, memo, list(map(operator.itemgetter(at), cells)))
        odd |= strange
    plain: Sequence[int] = range(len(rows))
    if not odd:
        return [*_events(table, plain, told, categories)]
    plain = [i for i in plain if i not in odd]
    told = {n: v if isinstance(v, repeat) else [v[i] for i in plain] for n, v in told.items()}
    out: list[LogEvent | None] = [None] * len(rows)
    for i, event in zip(plain, _events(table, plain, told, categories), strict=True):
        out[i] = event
    return out


def _marked(table: RawTable) -> set[int]:
    """Return the places of rows of which the table itself tells something, or that cannot print."""
    rows = table.rows
    numbers = {*table.long, *table.short, *table.merged, *table.formulas, *table.aside}
    out = {i for i, r in enumerate(rows) if r.row in numbers} if numbers else set()
    try:
        if "".join(chain.from_iterable(r.cells for r in rows)).isprintable():
            return out
    except TypeError:  # not all cells are texts
        pass
    for at in range(len(table.header)):
        column = (r.cells[at] for r in rows)
        out |= {i for i, c in enumerate(column) if type(c) is str and not c.isprintable()}
    return out


def _column(m: Meaning, read: Callable[[Any], Any], cells: list[Any]) -> tuple[list[Any], set[int]]:
    """Return what the cells of a column tell, each text read once, and the places of odd ones."""
    texts, only = texts_of(cells)
    told = {c: _plainly(m, read, c) for c in texts}
    if m.name == "position":
        spelled: dict[str, set[str]] = {}
        for value in told.values():
            if value is not ODD:
                spelled.setdefault(fold(value), set()).add(value)
        told = {c: v if v is ODD or len(spelled[fold(v)]) == 1 else ODD for c, v in told.items()}
    if only:
        values = list(map(told.__getitem__, cells))
        if not any(v is ODD for v in told.values()):
            return values, set()
    else:
        # what is no text may be yet another spelling
        other = (lambda _: ODD) if m.name == "position" else read
        values = [told[c] if type(c) is str else _plainly(m, other, c) for c in cells]
    return values, {i for i, v in enumerate(values) if v is ODD}


def _plainly(m: Meaning, read: Callable[[Any], Any], cell: Any) -> Any:
    """Return what a cell tells; `ODD` where its row has to be looked at."""
    if type(cell) is str and len(cell) > MAX_TEXT:
        return ODD
    if m.name == "engine" and normalise_id(text(cell)) == EXAMPLE_ENGINE:
        return ODD
    if cell is None and not m.missing:
        return m.blank
    try:
        value = read(cell)
    except CellError:
        return ODD
    return ODD if isinstance(value, FigureDoubt | DayDoubt) else value


def _events(
    table: RawTable, plain: Sequence[int], told: Told, categories: Collection[str]
) -> list[LogEvent]:
    """Return the events of plain rows from what their columns tell."""
    numbers = [table.rows[i].row for i in plain]
    same = {"file": repeat(table.file), "sheet": repeat(table.sheet)}
    origins = make_many(Origin, len(plain), same | {"row": numbers})
    fields = {n: told[n] for n in READ_AS_TOLD} | {f: told[n] for f, n in HOUR_COLUMNS.items()}
    component = told["component"]
    if not isinstance(component, repeat):
        component = [fold(c) for c in component]
    made = fields | {"origin": origins, "component": component, "position": told["position"]}
    if categories:
        named = zip(*(told[n] for n in categories), strict=False)
        made["categories"] = [
            {n: word for n, word in zip(categories, words, strict=True) if word}
            for words, _ in zip(named, plain, strict=False)
        ]
    return make_many(LogEvent, len(plain), made)
