"""A table as it stands in a file, before anything is made of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fleetstats.core.limits import most
from fleetstats.core.value import Value, value
from fleetstats.vocabulary.finding import Finding

MAX_BYTES = most("table_bytes")
"""Largest record file that is read whole; longer ones are read by chunks."""
MAX_ROWS = most("rows")
MAX_COLUMNS = most("columns")
MAX_CELLS = most("cells")
MAX_TEXT = 2_000
"""Longest text kept of one cell, in characters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BadCell:
    """A cell that has no value to read: a formula never calculated, an error value."""

    shown: str
    why: str

    def __str__(self) -> str:
        return self.shown


@dataclass(frozen=True, slots=True, kw_only=True)
class RawRow:
    """One line of a table. `row` is its number in the file, the header being line 1."""

    row: int
    cells: tuple[Any, ...]

    @property
    def blank(self) -> bool:
        """Return whether no cell holds anything."""
        return all(c is None or (isinstance(c, str) and not c.strip()) for c in self.cells)


@value
class RawTable(Value):
    """Header and lines of one file or sheet. Blank lines are counted, not kept.

    `rows` have exactly as many cells as `header`; lines that had more are in `long` too, lines
    that had fewer in `short` (row number: cells found). `merged` holds the rows that a merged
    cell leaves partly empty, `formulas` those with a formula. `delimiter` is empty unless the
    file is text. `aside` holds the rows that are set aside by decision: by whom, and why.
    """

    file: str
    header: tuple[str, ...]
    rows: tuple[RawRow, ...]
    sheet: str = ""
    header_row: int = 1
    n_blank: int = 0
    delimiter: str = ""
    short: dict[int, int] = field(default_factory=dict)
    long: dict[int, int] = field(default_factory=dict)
    merged: frozenset[int] = frozenset()
    formulas: frozenset[int] = frozenset()
    aside: dict[int, tuple[str, str]] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    _not_in_dict = ("rows",)

    @property
    def n_read(self) -> int:
        """Return the number of lines that are not blank, the header not counted."""
        return len(self.rows)


class TableError(Exception):
    """A file that cannot become a table; carries the finding that says so."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.message)
        self.finding = finding
