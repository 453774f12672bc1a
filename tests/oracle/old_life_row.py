"""A row while it is read: its cells by our names, and what is found about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fleetstats.tables.cells import CellError, text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.findings import entry_of


@dataclass(slots=True)
class RowInHand:
    """The findings of one row while it is read; `broken` is the code that keeps it out."""

    table: RawTable
    row: RawRow
    match: ColumnMatch
    engine: str = ""
    findings: list[Finding] = field(default_factory=list)
    broken: str = ""

    def cell(self, name: str) -> Any:
        """Return the cell of one of our columns; None where the file has no such column."""
        i = self.match.index.get(name)
        return None if i is None else self.row.cells[i]

    def text(self, name: str) -> str:
        """Return that cell as clean text."""
        return text(self.cell(name))

    def add(self, key: str, column: str = "", **fields: Any) -> None:
        """Add a finding of the catalogue about one of our columns."""
        cell = self.cell(column)
        self.findings.append(
            make_finding(
                key,
                file=self.table.file,
                sheet=self.table.sheet,
                row=self.row.row,
                column=self.match.shown.get(column, column),
                value=text(cell)[:80],
                engine=self.engine,
                **fields,
            )
        )
        kind = entry_of(key)
        if not kind.may_accept and kind.usual != "accept" and not self.broken:
            self.broken = kind.code

    def add_cell(self, error: CellError, column: str) -> None:
        """Add the finding on a cell that cannot be what its column needs."""
        self.add(error.key, column, trouble=error.message, hint=error.advice)
