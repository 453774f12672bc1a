"""Tables of checks, readings and bench runs: one row at a time, with what is wrong in it.

Unlike the lives, these rows never stop a study: a row that cannot be read is set aside with its
reason and counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, ClassVar

from fleetstats.core.value import Value, value
from fleetstats.records.hours import MAX_HOURS
from fleetstats.records.rows.meaning import Meaning, Ways
from fleetstats.records.rows.reader import Account, RowReader
from fleetstats.records.rows.row import RowInHand, by_need, check_decided
from fleetstats.records.set_aside import SetAside
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.cells import is_blank
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.finding import Finding, Origin


@value
class ConditionReading(Value):
    """One file of checks, readings or bench runs: ``n_read == len(rows) + len(set_aside)``."""

    file: str
    shape: str
    rows: tuple[Any, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]
    n_read: int
    n_blank: int = 0

    _not_in_dict: ClassVar[tuple[str, ...]] = ("rows",)

    def __repr__(self) -> str:
        return (
            f"{self.file}: {self.n_read} rows read = {len(self.rows)} used + "
            f"{len(self.set_aside)} set aside"
        )


def condition_hours(name: str, what: str, *, missing: str = "", impossible: str) -> Meaning:
    """Return the meaning of a column of hours at a check."""
    return Meaning(
        name,
        "hours",
        what=what,
        most=MAX_HOURS,
        missing=missing,
        unreadable="number-unread",
        impossible=impossible,
    )


CHECK_HOURS = condition_hours(
    "hours",
    "hours at the check",
    missing="hours-missing/check",
    impossible="hours-impossible/check",
)


def condition_number(name: str, what: str, **more: Any) -> Meaning:
    """Return the meaning of a column of numbers."""
    troubles = {"unreadable": "number-unread", "impossible": f"{name}-impossible"}
    return Meaning(name, "number", what=what, **(troubles | more))


def condition_texts(*names: str) -> tuple[Meaning, ...]:
    """Return the meaning of columns of texts; one that says nothing is empty."""
    return tuple(Meaning(n, "text", blank="") for n in names)


@dataclass(slots=True)
class Sheet:
    """A table with its columns told and its conventions settled."""

    table: RawTable
    match: ColumnMatch
    reader: RowReader
    account: Account[Any]

    def lines(self, engine: str = "engine") -> Iterator[tuple[RowInHand, dict[str, Any]]]:
        """Yield each row and what it tells; `engine` is the column that names what it is about."""
        for raw in self.table.rows if self.match.usable else ():
            row = RowInHand(table=self.table, row=raw, match=self.match, handle=by_need)
            if raw.row in self.table.long:
                n = self.table.long[raw.row]
                row.add("row-long", n_cells=n, n_header=len(self.table.header))
            row.engine = "" if is_blank(row.cell(engine)) else row.text(engine)
            if check_decided(row):
                self.account.take(row, None)
                continue
            yield row, self.reader.read(row)

    def origin(self, row: RowInHand) -> Origin:
        """Return where a row stands."""
        return Origin(file=self.table.file, row=row.row.row, sheet=self.table.sheet)

    def close(self, shape: str) -> ConditionReading:
        """Return what was read, every row accounted for."""
        if not self.match.usable:
            self.account.take_none(self.match)
        return ConditionReading(
            file=self.table.file,
            shape=shape,
            rows=tuple(self.account.rows),
            findings=tuple(self.account.findings),
            set_aside=tuple(self.account.set_aside),
            n_read=len(self.table.rows),
            n_blank=self.table.n_blank,
        )


def open_sheet(
    table: RawTable,
    keys: RecordKeys,
    fields: tuple[Field, ...],
    schema: tuple[Meaning, ...],
    *,
    unit: str = "h",
) -> Sheet:
    """Tell the columns of a table, its decimal mark and its order of dates.

    `unit` is the unit of ``[hours]`` in which its hours are written.
    """
    match = match_columns(table, fields, keys.columns)
    told, odd = settle_file(
        table,
        keys,
        match.index,
        numbers=[m.name for m in schema if m.kind in ("hours", "number")],
        dates=[m.name for m in schema if m.kind == "date"],
        findings={"ambiguous": "decimal-guessed"},
    )
    ways = Ways(decimal=told.decimal, day_first=told.day_first, unit=unit)
    findings = [*table.findings, *match.findings, *odd]
    return Sheet(
        table=table,
        match=match,
        reader=RowReader(schema, match.index, ways),
        account=Account(table, keys.source, findings=findings),
    )
