"""The reading of one row of shape "lives" by the conventions of its file."""

from __future__ import annotations

import datetime as dt
import math
from types import NoneType
from typing import Any

from oracle.old_hours import parse_hours
from oracle.old_life_checks import (
    check_from_new,
    check_order,
    find_last_good,
    find_modification,
    find_overhaul,
)
from oracle.old_life_row import RowInHand
from oracle.old_settle import DATE_COLUMNS, HOUR_COLUMNS, Conventions

from fleetstats.records.life import EXAMPLE_ENGINE, LifeRow
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import (
    CellError,
    is_blank,
    parse_date,
    parse_flag,
    parse_number,
    text,
)
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.memo import Memo
from fleetstats.tables.table import MAX_TEXT
from fleetstats.vocabulary.endings import ENDINGS, ENDINGS_BY_WORD
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.headers import meaning_of
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.meters import METER_WORDS, meter_kind
from fleetstats.vocabulary.nearest import did_you_mean
from fleetstats.vocabulary.unknown import cause_known

MAX_ID = 80
MAX_COUNT = 1_000_000
FLAG_COLUMNS = ("confirmed", "found_at_teardown")
TEXT_COLUMNS = ("note", "cause", "build", "source")


def is_plain_id(cell: Any) -> bool:
    """Return whether an engine id raises no question: a short text of printable ASCII."""
    return (
        type(cell) is str
        and len(cell) <= MAX_ID
        and cell.isascii()
        and cell.isprintable()
        and not is_blank(cell)
        and normalise_id(cell) not in ("", EXAMPLE_ENGINE)
    )


class LifeReader:
    """The conventions of one file, and the reading of its rows by them."""

    def __init__(
        self,
        settings: Settings,
        record_file: RecordFile,
        match: ColumnMatch,
        conventions: Conventions,
    ) -> None:
        self.settings = settings
        self.file = record_file
        self.match = match
        self.decimal = conventions.decimal
        self.endings = {fold(w): e for w, e in record_file.endings.items()}
        self.causes = {fold(w): c for w, c in record_file.causes.items()}
        self.ends: dict[tuple[Any, Any], tuple[str, str]] = {}
        self.day_first = conventions.day_first
        parsers: dict[str, Memo[Any]] = dict.fromkeys(HOUR_COLUMNS, Memo(self.as_hours))
        parsers |= dict.fromkeys(DATE_COLUMNS, Memo(self.as_day))
        parsers |= dict.fromkeys(FLAG_COLUMNS, Memo(parse_flag))
        self.blank: dict[str, Any] = dict.fromkeys(parsers)
        self.parsed = [(n, match.index[n], m) for n, m in parsers.items() if n in match.index]
        self.labels = Memo(text)
        self.texts = [(n, match.index[n]) for n in TEXT_COLUMNS if n in match.index]

    def read(self, row: RowInHand) -> LifeRow | None:
        """Read one row; its findings go to the row, and it is None where nothing can be made."""
        self._engine(row)
        cells = row.row.cells
        told = dict(self.blank)
        for name, at, memo in self.parsed:
            cell = cells[at]
            if type(cell) is str and cell in memo.known:
                told[name] = memo.known[cell]
            elif cell is not None:
                told[name] = self._parse(row, name, cell, memo)
        meter = self._meter(row)
        ending, cause = self._ending(row)
        if told["exit_hours"] is None and is_blank(row.cell("exit_hours")):
            row.add("hours-missing", "exit_hours")
        check_from_new(row, told, self.file.observed_from)
        extra = self._extra(row)
        count = self._count(row)
        shift, life = find_overhaul(row, told, self.settings.hours.basis)
        if row.broken:
            return None
        exit_h = (told["exit_hours"] or 0.0) - shift
        entry_h = max((told["entry_hours"] or 0.0) - shift, 0.0)
        check_order(row, entry_h, exit_h, ending)
        modified_h = find_modification(row, told["modified_at_hours"], shift, entry_h, exit_h)
        good = find_last_good(row, told, shift, entry_h, exit_h, ending)
        if ending == "running" and told["ended_date"] is not None:
            row.add("running-ended", "ended_date")
        return LifeRow(
            origin=Origin(file=row.table.file, row=row.row.row, sheet=row.table.sheet),
            rows=(row.row.row,),
            engine=row.engine,
            source=self.labels(row.cell("source")) or self.file.source,
            build=self.labels(row.cell("build")),
            entry_h=entry_h,
            exit_h=exit_h,
            last_good_h=good,
            life_start_h=shift,
            life=life,
            ending=ending,
            cause=cause,
            confirmed=told["confirmed"],
            meter=meter,
            in_service=told["in_service_date"],
            observed_from=told["observed_from_date"],
            last_reading=told["last_reading_date"],
            ended=told["ended_date"],
            found_at_teardown=told["found_at_teardown"],
            note=row.text("note"),
            modified_h=modified_h,
            build_after=row.text("modified_to") if modified_h is not None else "",
            count=count,
            extra=extra,
        )

    def _engine(self, row: RowInHand) -> None:
        cell = row.cell("engine")
        if is_blank(cell):
            row.add("engine-missing", "engine")
            return
        raw = text(cell)
        row.engine = raw[:MAX_ID]
        if len(raw) > MAX_ID or not normalise_id(raw):
            row.add("engine-unreadable", "engine", shown=raw[:30], n=len(raw), most=MAX_ID)

    def _parse(self, row: RowInHand, name: str, cell: Any, memo: Memo[Any]) -> Any:
        try:
            return memo(cell)
        except CellError as e:
            row.add_cell(e, name)
            return None

    def as_hours(self, cell: Any) -> float | None:
        """Return a cell as hours that an engine can have; raises CellError."""
        return parse_hours(cell, self.decimal, self.settings.hours.unit)

    def as_day(self, cell: Any) -> dt.date | None:
        """Return a cell as a date; raises CellError, which leaves it out."""
        return parse_date(cell, self.day_first)

    def meter_of(self, cell: Any) -> str:
        """Return a meter kind, the file's own where the cell is blank; raises CellError."""
        if is_blank(cell):
            return self.file.meter or self.settings.hours.meter
        word = text(cell)
        meter = meter_kind(word)
        if not meter:
            hint = did_you_mean(word, METER_WORDS)
            raise CellError("meter-unknown", "no-meter", shown=word[:30], hint=hint)
        return meter

    def _meter(self, row: RowInHand) -> str:
        try:
            return self.meter_of(row.cell("meter"))
        except CellError as e:
            row.add_cell(e, "meter")
            return ""

    def cause_of(self, cell: Any) -> str:
        """Return a cause in the study's words; empty where the cell is blank."""
        cause = text(cell)
        cause = self.causes.get(fold(cause), cause)
        return cause if cause_known(cause) else ""

    def end_of(self, cell: Any, cause_cell: Any) -> tuple[str, str]:
        """Return ending and cause of a life; raises CellError where the ending is not known."""
        told = (cell, cause_cell)
        if told in self.ends:
            return self.ends[told]
        out = self._end_of(cell, self.cause_of(cause_cell))
        if type(cell) is str and type(cause_cell) in (str, NoneType):
            self.ends[told] = out
        return out

    def _end_of(self, cell: Any, cause: str) -> tuple[str, str]:
        word = text(cell)
        known = meaning_of(word, self.endings) if word else None
        if known:
            return known, cause
        told = meaning_of(word, ENDINGS_BY_WORD) if word else None
        if told:
            ending, implied = told
            return ending, cause or implied
        if is_blank(cell):
            raise CellError(
                "ending-missing", "ending-silent" if word else "no-ending", shown=word[:40]
            )
        trouble = "ending-overhaul" if "overhaul" in fold(word) else "ending"
        hint = did_you_mean(word, ENDINGS)
        raise CellError("ending-unknown", trouble, shown=word[:40], hint=hint)

    def _ending(self, row: RowInHand) -> tuple[str, str]:
        cause_cell = row.cell("cause")
        try:
            return self.end_of(row.cell("ending"), cause_cell)
        except CellError as e:
            row.add_cell(e, "ending")
            return "running", self.cause_of(cause_cell)

    def _extra(self, row: RowInHand) -> dict[str, float]:
        out: dict[str, float] = {}
        for name in self.settings.groups.covariates:
            try:
                x = parse_number(row.cell(name), self.decimal, code="covariate-unreadable/cell")
            except CellError as e:
                row.add_cell(e, name)
                continue
            if x is None:
                continue
            if abs(x) > 1e12 or not math.isfinite(x):
                row.add("covariate-unreadable", name, x=x)
            else:
                out[name] = x
        for name, at in self.texts:
            cell = row.row.cells[at]
            if isinstance(cell, str) and len(cell) > MAX_TEXT:
                row.add("text-cut", name, n=len(cell), most=MAX_TEXT)
        return out

    def count_of(self, cell: Any) -> int:
        """Return how many equal engines a row stands for; raises CellError."""
        n = parse_number(cell, self.decimal, what="a count", code="count-unreadable")
        if n is None:
            return 1
        if not 1 <= n <= MAX_COUNT or n != int(n):
            raise CellError("count-unreadable", "no-count", x=n, most=MAX_COUNT)
        return int(n)

    def _count(self, row: RowInHand) -> int:
        try:
            return self.count_of(row.cell("count"))
        except CellError as e:
            row.add_cell(e, "count")
            return 1
