"""A table of histories written as a table of events, and the way back to its rows and columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from fleetstats.records.histories.unfold import ToldEvent
from fleetstats.records.life import LifeRow
from fleetstats.records.log_event import LogEvent
from fleetstats.records.set_aside import SetAside
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.tables.history_columns import HistoryColumns
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Finding

COLUMNS = tuple(f.name for f in LOG_FIELDS)
ALIKE = ("engine", "source", "build", "meter", "note")
"""Columns of a history that are columns of a log by the same names."""

FAILING = ("failed", "removed")
"""Events beside which the note of a row stands; in a row without them, beside the last."""


@dataclass(frozen=True, slots=True)
class Line:
    """One event: the row that it was made of, and the heads of its cells by a log's columns."""

    row: int
    shown: dict[str, str]


@dataclass(slots=True)
class AsLog:
    """The events of a file of histories as a table, each on a line of its own.

    The lines are numbered from 1, since the rows of a log are told apart by their numbers; what is
    said of a line is given back to its row by the methods.
    """

    columns: HistoryColumns
    categories: tuple[str, ...] = ()
    lines: list[Line] = field(default_factory=list)
    cells: list[tuple[Any, ...]] = field(default_factory=list)

    def add(self, raw: RawRow, told: Sequence[ToldEvent]) -> None:
        """Add the events of a row, in their order."""
        index, shown = self.columns.match.index, self.columns.match.shown
        alike = {n: raw.cells[index[n]] for n in (*ALIKE, *self.categories) if n in index}
        heads = {n: shown[n] for n in alike}
        beside = next((i for i in reversed(range(len(told))) if told[i].cells["kind"] in FAILING),
                      len(told) - 1)  # fmt: skip
        for i, event in enumerate(told):
            own = {n: x for n, x in alike.items() if n != "note" or i == beside}
            cells = {n: x for n, x in own.items() if n not in self.categories or i == 0}
            cells |= event.cells
            rest = [raw.cells[at] if i == beside else None for at, _ in self.unused]
            names = {n: shown.get(c, c) for n, c in event.names.items()}
            self.lines.append(Line(row=raw.row, shown=heads | names))
            self.cells.append((*(cells.get(n) for n in (*COLUMNS, *self.categories)), *rest))

    @property
    def unused(self) -> list[tuple[int, str]]:
        """Return the columns that nothing is made of: their places and heads."""
        taken = set(self.columns.match.index.values())
        header = self.columns.table.header
        return [(i, h) for i, h in enumerate(header) if i not in taken and h]

    def table(self) -> RawTable:
        """Return the events as a table of shape "log"."""
        t = self.columns.table
        return RawTable(
            file=t.file,
            sheet=t.sheet,
            header=(*COLUMNS, *self.categories, *(h for _, h in self.unused)),
            header_row=t.header_row,
            delimiter=t.delimiter,
            rows=tuple(RawRow(row=i, cells=c) for i, c in enumerate(self.cells, start=1)),
        )

    # -- the way back ----------------------------------------------------------------------------

    def row_of(self, line: int | None) -> int | None:
        """Return the row of a line; None where there is none."""
        return None if line is None else self.lines[line - 1].row

    def finding(self, f: Finding) -> Finding:
        """Return a finding on a line as one on its row and column."""
        if f.row is None:
            return f
        line = self.lines[f.row - 1]
        return replace(f, row=line.row, column=line.shown.get(f.column, f.column))

    def aside(self, s: SetAside) -> SetAside:
        """Return a line set aside as its row."""
        return replace(s, row=self.lines[s.row - 1].row)

    def event(self, e: LogEvent) -> LogEvent:
        """Return an event as one of its row."""
        return replace(e, origin=replace(e.origin, row=self.row_of(e.origin.row)))

    def life(self, x: LifeRow) -> LifeRow:
        """Return a life that stands on lines as one that stands on their rows."""
        rows = dict.fromkeys(self.lines[n - 1].row for n in x.rows)
        return replace(x, origin=replace(x.origin, row=self.row_of(x.origin.row)), rows=tuple(rows))

    def hints(self, hinted: Iterable[Hinted], lives: Iterable[LifeRow]) -> tuple[Hinted, ...]:
        """Return what lines hint at as hints of their rows, each tied to the life it ends in."""
        at = {n: x for x in lives for n in x.rows}
        out = []
        for h in hinted:
            line, life = self.lines[h.row - 1], at.get(h.row)
            named: dict[str, Any] = {n: tuple(line.shown.get(c, c) for c in getattr(h, n))
                     for n in ("columns", "beside", "unused", "naming")}  # fmt: skip
            end = None if life is None else life.life_start_h + life.exit_h
            out.append(replace(h, row=line.row, life_end_h=end, **named))
        return tuple(out)
