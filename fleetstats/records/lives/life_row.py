"""A row while it is read: its cells by our names, and what is found about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.audit.finding import Finding
from fleetstats.tables.cells import text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.kinds import KINDS, make_finding


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

    def add(self, code: str, message: str, advice: str, column: str = "") -> None:
        """Add a finding about one of our columns."""
        cell = self.cell(column)
        self.findings.append(
            make_finding(
                code,
                message,
                advice,
                file=self.table.file,
                sheet=self.table.sheet,
                row=self.row.row,
                column=self.match.shown.get(column, column),
                value=text(cell)[:80],
                engine=self.engine,
            )
        )
        kind = KINDS[code]
        if not kind.may_accept and kind.default != "accept" and not self.broken:
            self.broken = code
