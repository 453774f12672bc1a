"""Rows read by a schema, and the account of what became of each."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Generic, TypeVar

from fleetstats.records.rows.doubted import WordsRead
from fleetstats.records.rows.meaning import Meaning, Ways, read_cell
from fleetstats.records.rows.row import RowInHand
from fleetstats.records.set_aside import SetAside
from fleetstats.tables.cells import CellError
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.tables.memo import Memo
from fleetstats.tables.table import MAX_TEXT, RawTable
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings.reasons import say_aside

T = TypeVar("T")


class RowReader:
    """The reading of a file's rows by a schema.

    Parameters
    ----------
    schema : tuple of Meaning
        In the order in which cells are looked at.
    index : mapping
        Our column names to positions.
    ways : Ways
        How the file writes.
    first_only : bool
        Whether a row that is kept out is looked at no further.
    """

    def __init__(
        self,
        schema: tuple[Meaning, ...],
        index: Mapping[str, int],
        ways: Ways,
        *,
        first_only: bool = False,
    ) -> None:
        self.schema = {m.name: m for m in schema}
        self.parse: dict[str, Callable[..., Any]] = {}
        self.first_only = first_only
        self.steps: list[tuple[Meaning, int | None, Memo[Any] | None]] = []
        memos: list[tuple[Meaning, Memo[Any]]] = []
        for m in schema:
            self.parse[m.name] = functools.partial(read_cell, m, ways)
            if isinstance(m.most, str):
                self.steps.append((m, index.get(m.name), None))
                continue
            # columns that mean the same share what their texts became
            alike = replace(m, name="")
            memo = next((known for other, known in memos if other == alike), None)
            if memo is None:
                memo = Memo(self.parse[m.name])
                memos.append((alike, memo))
            self.steps.append((m, index.get(m.name), memo))
        self.needed = [s for s in self.steps if not s[0].soft]
        self.soft = [s for s in self.steps if s[0].soft]

    def read(self, row: RowInHand) -> dict[str, Any]:
        """Return what the cells that a row needs tell, by our names; findings go to the row."""
        told: dict[str, Any] = {}
        self._read(row, told, self.needed)
        return told

    def read_soft(self, row: RowInHand, told: dict[str, Any]) -> None:
        """Add what the other cells of a row that is used tell."""
        self._read(row, told, self.soft)

    def _read(
        self,
        row: RowInHand,
        told: dict[str, Any],
        steps: list[tuple[Meaning, int | None, Memo[Any] | None]],
    ) -> None:
        cells = row.row.cells
        for m, at, memo in steps:
            cell = None if at is None else cells[at]
            if memo is not None and type(cell) is str and cell in memo.known:
                value = memo.known[cell]
            elif cell is None and not m.missing:
                value = m.blank
            else:
                try:
                    value = memo(cell) if memo else self.parse[m.name](cell, told)
                except CellError as e:
                    row.add(e.key, m.name, hard=not m.soft, **e.fields)
                    value = m.blank
                    if row.broken and self.first_only:
                        return
            told[m.name] = value
            if m.doubt and isinstance(value, FigureDoubt | DayDoubt):
                row.doubts[m.name] = value
            if m.cut and type(cell) is str and len(cell) > MAX_TEXT:
                row.add("text-cut", m.name, n=len(cell), most=MAX_TEXT)


def fill(made_of: type[T], told: Mapping[str, Any], **more: Any) -> T:
    """Return a value whose parameters are what a row tells by the same names, and `more`."""
    names = _names_of(made_of)  # type: ignore[arg-type]
    return made_of(**{n: v for n, v in told.items() if n in names} | more)


@functools.cache
def _names_of(kind: type[Any]) -> frozenset[str]:
    return frozenset(f.name for f in fields(kind))


@dataclass(slots=True)
class Account(Generic[T]):
    """What was made of the rows of a table: each is among `rows` or `set_aside`."""

    table: RawTable
    source: str
    rows: list[T] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    words: WordsRead = field(default_factory=WordsRead)

    def take(self, row: RowInHand, made: T | None) -> None:
        """Take in a row that was read, and what was made of it."""
        self.findings += row.findings
        self.words.note(row)
        if made is not None and not row.broken:
            self.rows.append(made)
            return
        source = row.text("source") or self.source
        self._put_aside(row.row.row, row.broken, row.message, row.engine, source)
        if row.ending or row.in_service is not None:
            self.set_aside[-1] = replace(
                self.set_aside[-1], ending=row.ending, in_service=row.in_service
            )

    def take_none(self, match: ColumnMatch, message: str = "") -> None:
        """Set every row aside, since the columns do not tell what they hold."""
        code = next(f.code for f in match.findings if f.severity == "error")
        for raw in self.table.rows:
            self._put_aside(raw.row, code, message or say_aside("columns"), "", self.source)

    def tell_words(self) -> None:
        """Add the findings on cells that were read from words, once all rows are taken in."""
        self.findings += self.words.findings(self.table.file, self.table.sheet)

    def _put_aside(self, row: int, reason: str, message: str, engine: str, source: str) -> None:
        self.set_aside.append(
            SetAside(
                file=self.table.file,
                row=row,
                sheet=self.table.sheet,
                reason=reason,
                message=message,
                engine=engine,
                source=source,
            )
        )
