"""A row while it is read: its cells by our names, and what is found about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.rows.meaning import MAX_ID
from fleetstats.tables.cells import has_control, text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.findings import entry_of, say_finding
from fleetstats.vocabulary.ids import normalise_id

Handle = Callable[[str, bool], tuple[str, bool]]
"""From a finding's key and whether it concerns a cell that the row needs: what is done about it,
and whether that keeps the row out."""


def by_catalogue(key: str, _hard: bool) -> tuple[str, bool]:
    """Keep a row out where its kind of finding cannot be accepted; the audit decides the rest."""
    kind = entry_of(key)
    return kind.usual, not kind.may_accept and kind.usual != "accept"


def by_need(_key: str, hard: bool) -> tuple[str, bool]:
    """Keep a row out for a cell that it needs; such rows never stop a study."""
    return "set-aside" if hard else "accept", hard


@dataclass(slots=True)
class RowInHand:
    """The findings of one row while it is read.

    `broken` is the code that keeps it out, `message` why, without advice. `doubts` holds, by our
    names, what its cells tell in words; `ending` and `in_service` as in `SetAside`.
    """

    table: RawTable
    row: RawRow
    match: ColumnMatch
    engine: str = ""
    handle: Handle = by_catalogue
    findings: list[Finding] = field(default_factory=list)
    broken: str = ""
    message: str = ""
    doubts: dict[str, FigureDoubt | DayDoubt] = field(default_factory=dict)
    ending: str = ""
    in_service: dt.date | None = None

    def cell(self, name: str) -> Any:
        """Return the cell of one of our columns; None where the file has no such column."""
        i = self.match.index.get(name)
        return None if i is None else self.row.cells[i]

    def text(self, name: str) -> str:
        """Return that cell as clean text."""
        return text(self.cell(name))

    def add(self, key: str, column: str = "", *, hard: bool = True, **fields: Any) -> None:
        """Add a finding of the catalogue about one of our columns."""
        action, breaks = self.handle(key, hard)
        found = make_finding(
            key,
            file=self.table.file,
            sheet=self.table.sheet,
            row=self.row.row,
            column=self.match.shown.get(column, column),
            value=self.text(column)[:80],
            engine=self.engine,
            action=action,
            **fields,
        )
        self.findings.append(found)
        if breaks and not self.broken:
            said = say_finding(key, **{"engine": self.engine} | fields | {"hint": ""})
            self.broken, self.message = found.code, said.sentence


def check_example(row: RowInHand, key: str = "example-row") -> bool:
    """Return whether the row is a template's example; it is set aside with a note."""
    if normalise_id(row.text("engine")) != EXAMPLE_ENGINE:
        return False
    row.engine = row.text("engine")
    row.add(key, "engine")
    return True


def check_decided(row: RowInHand) -> bool:
    """Return whether a decision sets the row aside, whatever stands in it; it is then said so."""
    told = row.table.aside.get(row.row.row) if row.table.aside else None
    if told is None:
        return False
    row.engine = row.engine or row.text("engine")[:MAX_ID]
    row.add("mended-aside", by=told[0], why=told[1].rstrip(". "))
    return True


ANSWERS = ("exit_hours", "ending", "cause", "confirmed", "last_reading_date", "ended_date", "note")
"""Boxes of a list of calls; with all of them empty, nobody answered."""


def check_unanswered(row: RowInHand) -> bool:
    """Return whether the row is a call that was not answered; it is set aside with a note.

    Its engine does not count as heard of: the row was written by whoever made the list.
    """
    if not row.text("call") or any(row.text(name) for name in ANSWERS):
        return False
    row.add("call-unanswered", "exit_hours", shown=row.text("engine"))
    return True


def check_marks(row: RowInHand) -> None:
    """Look at what the table tells of the row: cells too many or few, merged cells, formulas."""
    table, n = row.table, row.row.row
    if n in table.long:
        row.add("row-long", n_cells=table.long[n], n_header=len(table.header))
    if n in table.short:
        row.add("row-short", n_cells=table.short[n], n_header=len(table.header))
    if n in table.merged:
        row.add("merged-cell")
    if n in table.formulas:
        row.add("formula-value")
    # most rows are printable throughout, which one question tells
    texts = [c for c in row.row.cells if isinstance(c, str)]
    if not "".join(texts).isprintable() and any(map(has_control, texts)):
        row.add("control-characters")
