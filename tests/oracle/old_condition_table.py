"""Tables of checks, readings and bench runs: one line at a time, with what is wrong in it.

Unlike the lives, these rows never stop a study: a row that cannot be read is set aside with its
reason and counted.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from oracle.old_hours import MAX_HOURS, in_hours

from fleetstats.core.value import Value
from fleetstats.records.set_aside import SetAside
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.cells import (
    CellError,
    find_day_first,
    find_decimal,
    is_blank,
    parse_date,
    parse_number,
    text,
)
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.findings.reasons import say_aside
from fleetstats.vocabulary.headers import meaning_of
from fleetstats.vocabulary.nearest import did_you_mean


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
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


@dataclass(slots=True)
class Line:
    """One line while it is read. `broken` is the code that keeps it out, if any."""

    sheet: Sheet
    raw: RawRow
    engine: str = ""
    broken: str = ""
    message: str = ""

    @property
    def row(self) -> int:
        """Return the line's number in the file."""
        return self.raw.row

    def cell(self, name: str) -> Any:
        """Return the cell of one of our columns; None where the file has no such column."""
        i = self.sheet.match.index.get(name)
        return None if i is None else self.raw.cells[i]

    def text(self, name: str) -> str:
        """Return a cell as clean text."""
        cell = self.cell(name)
        return "" if is_blank(cell) else text(cell)

    def literal(self, name: str) -> str:
        """Return a cell as clean text, where "none" is a word of its own and not a blank."""
        return text(self.cell(name))

    def fail(self, key: str, column: str = "", **fields: Any) -> None:
        """Say why the line cannot be used: it is set aside, and the chapter goes on without it."""
        found = self._find(key, column, "set-aside", fields)
        if not self.broken:
            self.broken, self.message = found.code, found.message

    def note(self, key: str, column: str = "", **fields: Any) -> None:
        """Say what is odd about the line."""
        self._find(key, column, "accept", fields)

    def _find(self, key: str, column: str, action: str, fields: dict[str, Any]) -> Finding:
        table = self.sheet.table
        found = make_finding(
            key,
            action=action,
            file=table.file,
            sheet=table.sheet,
            row=self.row,
            column=self.sheet.match.shown.get(column, column),
            value=text(self.cell(column))[:80] if column else "",
            engine=self.engine,
            **fields,
        )
        self.sheet.findings.append(found)
        return found

    def number(
        self,
        name: str,
        what: str,
        *,
        low: float = 0.0,
        high: float = math.inf,
        required: bool = False,
        right: str = "",
        unit: str = "",
    ) -> float | None:
        """Read a number; out of range or unreadable sets the line aside.

        `unit` is that of ``[hours]`` where the number is hours; limits and value are in hours then.
        """
        cell, mark, code = self.cell(name), self.sheet.decimal, "number-unread"
        try:
            if unit:
                x = in_hours(cell, mark, unit, what=what, code=code)
            else:
                x = parse_number(cell, mark, what=what, code=code)
        except CellError as e:
            self.fail(e.key, name, trouble=e.message, hint=e.advice)
            return None
        if x is None:
            if required:
                self.fail(_hours(f"{name}-missing"), name, what=what, right=right)
            return None
        if not math.isfinite(x) or not low <= x <= high:
            top = f" to {high:,g}" if math.isfinite(high) else " or more"
            key = _hours(f"{name}-impossible")
            self.fail(key, name, x=x, what=what, right=right, least=low, most=top)
            return None
        return x

    def hours(self, name: str, what: str, *, required: bool = False) -> float | None:
        """Read hours that an engine can have; any other value sets the line aside."""
        return self.number(name, what, high=MAX_HOURS, required=required, unit=self.sheet.unit)

    def word(self, name: str, words: Mapping[str, str], what: str, *, required: bool) -> str:
        """Read one of some known words; `words` maps folded words to ours."""
        ours = meaning_of(self.literal(name), words) or ""
        shown = self.text(name)
        if not shown and not ours:
            if required:
                known = ", ".join(dict.fromkeys(words.values()))
                self.fail(f"{name}-missing", name, what=what, words=known)
            return ""
        if not ours:
            near = did_you_mean(shown, dict.fromkeys(words.values()))
            self.fail(f"{name}-unknown", name, word=shown[:40], what=what, hint=near)
        return ours

    def date(self, name: str = "date") -> dt.date | None:
        """Read a date; one that cannot be read is left out with a warning."""
        try:
            return parse_date(self.cell(name), self.sheet.day_first)
        except CellError as e:
            self.note(e.key, name, trouble=e.message, hint=e.advice)
            return None


def _hours(key: str) -> str:
    """Return the case that hours at a check are, of codes that tables of lives have too."""
    return f"{key}/check" if key.startswith("hours-") else key


@dataclass(slots=True)
class Sheet:
    """A table with its columns told and its conventions settled."""

    table: RawTable
    match: ColumnMatch
    source: str
    decimal: str
    day_first: bool | None
    unit: str = "h"
    findings: list[Finding] = field(default_factory=list)
    aside: list[SetAside] = field(default_factory=list)

    def lines(self) -> Iterator[Line]:
        """Yield each line; those left broken by the caller are set aside."""
        if not self.match.usable:
            code = next(f.code for f in self.match.findings if f.severity == "error")
            for raw in self.table.rows:
                self._aside(raw.row, code, say_aside("columns"), "")
            return
        long = dict(self.table.long)
        for raw in self.table.rows:
            line = Line(sheet=self, raw=raw)
            if raw.row in long:
                line.fail("row-long", n_cells=long[raw.row], n_header=len(self.table.header))
            yield line
            if line.broken:
                self._aside(raw.row, line.broken, line.message, line.engine)

    def _aside(self, row: int, reason: str, message: str, engine: str) -> None:
        self.aside.append(
            SetAside(
                file=self.table.file,
                row=row,
                reason=reason,
                message=message,
                engine=engine,
                source=self.source,
            )
        )

    def close(self, shape: str, rows: list[Any]) -> ConditionReading:
        """Return what was read, every row accounted for."""
        return ConditionReading(
            file=self.table.file,
            shape=shape,
            rows=tuple(rows),
            findings=(*self.table.findings, *self.match.findings, *self.findings),
            set_aside=tuple(self.aside),
            n_read=len(self.table.rows),
            n_blank=self.table.n_blank,
        )


def open_sheet(
    table: RawTable,
    keys: RecordKeys,
    fields: tuple[Field, ...],
    *,
    numbers: tuple[str, ...],
    dates: tuple[str, ...] = (),
    unit: str = "h",
) -> Sheet:
    """Tell the columns of a table, its decimal mark and its order of dates.

    `unit` is the unit of ``[hours]`` in which its hours are written.
    """
    match = match_columns(table, fields, keys.columns)

    def cells(names: tuple[str, ...]) -> list[Any]:
        at = [match.index[n] for n in names if n in match.index]
        return [r.cells[i] for i in at for r in table.rows]

    decimal = keys.decimal
    found: list[Finding] = []
    if decimal == "auto":
        decimal = find_decimal(cells(numbers), table.delimiter)
        if decimal == "ambiguous":
            found.append(make_finding("decimal-guessed", file=table.file, sheet=table.sheet))
            decimal = "."
    order = {"day-first": True, "month-first": False}.get(keys.date_order)
    return Sheet(
        table=table,
        match=match,
        source=keys.source,
        decimal=decimal,
        day_first=find_day_first(cells(dates)) if order is None else order,
        unit=unit,
        findings=found,
    )
