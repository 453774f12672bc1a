"""The reading of one row of shape "lives" by the conventions of its file."""

from __future__ import annotations

from collections.abc import Callable
from types import NoneType
from typing import Any

from fleetstats.records.life import EXAMPLE_ENGINE, LifeRow
from fleetstats.records.lives.life_cells import life_cells, more_cells
from fleetstats.records.lives.life_checks import (
    check_from_new,
    check_order,
    find_last_good,
    find_modification,
    find_overhaul,
)
from fleetstats.records.lives.life_doubts import settle_doubts
from fleetstats.records.rows.meaning import MAX_ID, Meaning, Ways
from fleetstats.records.rows.reader import RowReader
from fleetstats.records.rows.row import RowInHand
from fleetstats.records.rows.totals import TotalsJudge
from fleetstats.records.told_values import moved, read_told
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import is_blank
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.settle import Conventions
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.ids import is_bare_serial, normalise_id


def is_plain_id(cell: Any) -> bool:
    """Return whether an engine id raises no question: a short text of printable ASCII."""
    return type(cell) is str and len(cell) <= MAX_ID and (is_bare_serial(cell) or _names(cell))


def _names(cell: str) -> bool:
    return (
        cell.isascii()
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
        ways = Ways(decimal=self.decimal, day_first=conventions.day_first,
                    unit=settings.hours.unit, until=settings.study.analysis_date)  # fmt: skip
        self.cells = RowReader(life_cells(record_file, settings), match.index, ways)
        self.more = RowReader(more_cells(record_file, settings), match.index, ways)
        self.schema: dict[str, Meaning] = self.cells.schema | self.more.schema
        self.parse: dict[str, Callable[..., Any]] = self.cells.parse | self.more.parse
        self.totals = TotalsJudge(match, "ending", self.parse["ending"])
        self.ends: dict[tuple[Any, Any], tuple[str, str]] = {}

    def read(self, row: RowInHand) -> LifeRow | None:
        """Read one row; its findings go to the row, and it is None where nothing can be made."""
        if not is_blank(row.cell("engine")):
            row.engine = row.text("engine")[:MAX_ID]
        told = self.cells.read(row)
        doubt = settle_doubts(row, told)
        if told["exit_hours"] is None and is_blank(row.cell("exit_hours")):
            ending = told["ending"][0]
            failed = ending in FAILING_ENDINGS
            row.add("hours-missing/failed" if failed else "hours-missing", "exit_hours",
                    ending=row.text("ending"))  # fmt: skip
            row.ending, row.in_service = ending, told["in_service_date"]
        check_from_new(row, told, self.file.observed_from)
        told |= self.more.read(row)
        shift, life = find_overhaul(row, told, self.settings.hours.basis)
        if row.broken:
            return None
        ending, implied = told["ending"]
        exit_h = (told["exit_hours"] or 0.0) - shift
        entry_h = max((told["entry_hours"] or 0.0) - shift, 0.0)
        check_order(row, entry_h, exit_h, ending, may_be_none=doubt.may_be_none)
        modified_h = find_modification(row, told["modified_at_hours"], shift, entry_h, exit_h)
        good = find_last_good(row, told, shift, entry_h, exit_h, ending)
        if ending == "running" and told["ended_date"] is not None:
            row.add("running-ended", "ended_date")
        names = self.settings.groups.covariates
        return LifeRow(
            origin=Origin(file=row.table.file, row=row.row.row, sheet=row.table.sheet),
            rows=(row.row.row,),
            engine=row.engine,
            source=told["source"],
            build=told["build"],
            entry_h=entry_h,
            exit_h=exit_h,
            exit_low_h=doubt.exit_low(shift),
            exit_high_h=doubt.exit_high(shift),
            last_good_h=good,
            life_start_h=shift,
            life=life,
            ending=ending,
            cause=told["cause"] or implied,
            confirmed=told["confirmed"],
            meter=told["meter"],
            in_service=told["in_service_date"],
            observed_from=told["observed_from_date"],
            last_reading=told["last_reading_date"],
            ended=told["ended_date"],
            coarse=doubt.days,
            found_at_teardown=told["found_at_teardown"],
            note=told["note"],
            modified_h=modified_h,
            build_after=told["modified_to"] if modified_h is not None else "",
            count=told["count"],
            clock_doubt=told["clock_doubt"],
            entry_told=not is_blank(row.cell("entry_hours")),
            extra={n: told[n] for n in names if told[n] is not None},
            categories=self._categories(told, entry_h, shift),
        )

    def _categories(
        self, told: dict[str, Any], entry_h: float, shift: float
    ) -> dict[str, tuple[tuple[float, str], ...]]:
        """Return what the row tells in columns of words, with hours on the life's clock."""
        unit = self.settings.hours.unit
        found = {
            n: read_told(told[n], entry_h + shift, self.decimal, unit)
            for n in self.settings.categories.columns
        }
        return moved({n: v for n, v in found.items() if v}, less=shift)

    def end_of(self, cell: Any, cause_cell: Any) -> tuple[str, str]:
        """Return ending and cause of a life; raises CellError where the ending is not known."""
        told = (cell, cause_cell)
        if told in self.ends:
            return self.ends[told]
        ending, implied = self.parse["ending"](cell)
        out = ending, self.parse["cause"](cause_cell) or implied
        if type(cell) is str and type(cause_cell) in (str, NoneType):
            self.ends[told] = out
        return out
