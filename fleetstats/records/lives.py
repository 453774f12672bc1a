"""Record shape "lives": each row of a table to one `LifeRow`, or to the reason why not."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from fleetstats.records.cells import (
    CellError,
    find_day_first,
    find_decimal,
    is_blank,
    parse_date,
    parse_flag,
    parse_number,
    text,
)
from fleetstats.records.columns import LIFE_FIELDS, ColumnMatch, match_columns, plain_name
from fleetstats.records.ending_words import ENDINGS_BY_WORD
from fleetstats.records.finding import Finding, SetAside
from fleetstats.records.kinds import make_finding
from fleetstats.records.life import ENDINGS, LifeRow, Origin, normalise_id
from fleetstats.records.life_checks import (
    check_example,
    check_from_new,
    check_marks,
    check_order,
    find_last_good,
    find_modification,
    find_overhaul,
)
from fleetstats.records.life_row import RowInHand
from fleetstats.records.meters import METER_WORDS, meter_kind
from fleetstats.records.reading import Reading
from fleetstats.records.study import RecordFile, Study
from fleetstats.records.table import MAX_TEXT, RawTable
from fleetstats.records.words import did_you_mean

MAX_HOURS = 100_000.0
"""No piston engine reaches these hours; more is a slip of the pen or of the unit."""
MAX_ID = 80
MAX_COUNT = 1_000_000
HOUR_COLUMNS = (
    "entry_hours",
    "exit_hours",
    "last_good_hours",
    "overhauled_at_hours",
    "since_overhaul_hours",
    "modified_at_hours",
)
DATE_COLUMNS = ("in_service_date", "observed_from_date", "last_reading_date", "ended_date")


def read_lives(study: Study, record_file: RecordFile, table: RawTable) -> Reading:
    """Turn the rows of a table into lives.

    Every row becomes one `LifeRow` or one `SetAside`; what is odd becomes findings. Hours are
    on the study's life basis, in the meter that the row names.

    Parameters
    ----------
    study : Study
        The study.
    record_file : RecordFile
        The file's description.
    table : RawTable
        The file as read.

    Returns
    -------
    Reading
    """
    covariates = study.settings.groups.covariates
    match = match_columns(table, LIFE_FIELDS, record_file.columns, covariates)
    found = [*table.findings, *match.findings]
    lines = tuple(r.row for r in table.rows)
    source = record_file.source
    if not match.usable:
        code = next(f.code for f in match.findings if f.severity == "error")
        aside = tuple(
            SetAside(file=table.file, row=n, reason=code, source=source,
                     message="The file's columns could not be told.")
            for n in lines
        )  # fmt: skip
        return Reading(
            file=table.file, shape="lives", source=source, findings=tuple(found),
            set_aside=aside, lines=lines, n_blank=table.n_blank,
        )  # fmt: skip
    reader = _Reader(study, record_file, table, match)
    found += reader.settle()
    lives: list[LifeRow] = []
    aside_list: list[SetAside] = []
    engines: dict[str, str] = {}
    for raw in table.rows:
        row = RowInHand(table=table, row=raw, match=match)
        check_marks(row)
        life = None if check_example(row) else reader.read(row)
        found += row.findings
        if row.engine:
            engines.setdefault(normalise_id(row.engine), row.engine)
        if life is None or row.broken:
            first = next(f for f in row.findings if f.code == row.broken)
            aside_list.append(
                SetAside(
                    file=table.file,
                    row=raw.row,
                    reason=row.broken,
                    message=first.message,
                    engine=row.engine,
                    source=row.text("source") or source,
                )
            )
        else:
            lives.append(life)
    return Reading(
        file=table.file,
        shape="lives",
        source=source,
        rows=tuple(lives),
        findings=tuple(found),
        set_aside=tuple(aside_list),
        lines=lines,
        n_blank=table.n_blank,
        engines=tuple(engines.values()),
    )


class _Reader:
    """The conventions of one file, and the reading of its rows by them."""

    def __init__(
        self, study: Study, record_file: RecordFile, table: RawTable, match: ColumnMatch
    ) -> None:
        self.study = study
        self.settings = study.settings
        self.file = record_file
        self.table = table
        self.match = match
        self.decimal = record_file.decimal
        order = {"day-first": True, "month-first": False}
        self.day_first = order.get(record_file.date_order)
        self.endings = {plain_name(w): e for w, e in record_file.endings.items()}
        self.causes = {plain_name(w): c for w, c in record_file.causes.items()}

    def settle(self) -> list[Finding]:
        """Settle the decimal mark and the order of dates from all the cells they concern."""
        found: list[Finding] = []
        where = {"file": self.table.file, "sheet": self.table.sheet}
        if self.decimal == "auto":
            covariates = self.settings.groups.covariates
            self.decimal = find_decimal(
                self._cells(*HOUR_COLUMNS, *covariates), self.table.delimiter
            )
            if self.decimal == "mixed":
                found.append(
                    make_finding(
                        "decimal-mixed",
                        "The file writes some numbers with a decimal comma, some with a point.",
                        "Each is read by itself where only one reading is possible. Use one mark.",
                        **where,
                    )
                )
            elif self.decimal == "ambiguous":
                example = next(
                    str(c) for c in self._cells(*HOUR_COLUMNS, *covariates)
                    if isinstance(c, str) and ("," in c or "." in c)
                )  # fmt: skip
                found.append(
                    make_finding(
                        "decimal-ambiguous",
                        f"'{example[:20]}' may be read in two ways, and no other number tells.",
                        "State decimal = '.' or decimal = ',' for this file.",
                        value=example[:20],
                        **where,
                    )
                )
                self.decimal = "."
        if self.day_first is None:
            self.day_first = find_day_first(self._cells(*DATE_COLUMNS))
        if "entry_hours" not in self.match.index and self.table.rows:
            found.append(
                make_finding(
                    "all-from-new",
                    "The file has no entry hours; all its engines count as followed from new.",
                    "If you first heard of an engine at 600 h, its entry is 600.",
                    column="entry_hours",
                    **where,
                )
            )
        return found

    def _cells(self, *names: str) -> list[Any]:
        at = [self.match.index[n] for n in names if n in self.match.index]
        return [r.cells[i] for i in at for r in self.table.rows]

    def read(self, row: RowInHand) -> LifeRow | None:
        """Read one row; its findings go to the row, and it is None where nothing can be made."""
        self._engine(row)
        hours = {name: self._hours(row, name) for name in HOUR_COLUMNS}
        meter = self._meter(row)
        ending, cause = self._ending(row)
        dates = {name: self._date(row, name) for name in DATE_COLUMNS}
        if is_blank(row.cell("exit_hours")):
            row.add(
                "hours-missing",
                "The hours at exit are empty.",
                "Enter the hours now or at the end; without them the life has no length.",
                "exit_hours",
            )
        check_from_new(row, hours, dates, self.file.observed_from)
        flags = {n: self._flag(row, n) for n in ("confirmed", "found_at_teardown")}
        extra = self._extra(row)
        count = self._count(row)
        shift, life = find_overhaul(row, hours, self.settings.hours.basis)
        if row.broken:
            return None
        exit_h = (hours["exit_hours"] or 0.0) - shift
        entry_h = max((hours["entry_hours"] or 0.0) - shift, 0.0)
        check_order(row, entry_h, exit_h, ending)
        modified_h = find_modification(row, hours["modified_at_hours"], shift, entry_h, exit_h)
        good = find_last_good(row, hours, shift, entry_h, exit_h, ending)
        if ending == "running" and dates["ended_date"] is not None:
            row.add(
                "running-ended",
                "The engine is said to run and has a date of end.",
                "Correct the ending, or move the date to the last reading.",
                "ended_date",
            )
        return LifeRow(
            origin=Origin(file=self.table.file, row=row.row.row, sheet=self.table.sheet),
            rows=(row.row.row,),
            engine=row.engine,
            source=row.text("source") or self.file.source,
            build=row.text("build"),
            entry_h=entry_h,
            exit_h=exit_h,
            last_good_h=good,
            life_start_h=shift,
            life=life,
            ending=ending,
            cause=cause,
            confirmed=flags["confirmed"],
            meter=meter,
            in_service=dates["in_service_date"],
            observed_from=dates["observed_from_date"],
            last_reading=dates["last_reading_date"],
            ended=dates["ended_date"],
            found_at_teardown=flags["found_at_teardown"],
            note=row.text("note"),
            modified_h=modified_h,
            build_after=row.text("modified_to") if modified_h is not None else "",
            count=count,
            extra=extra,
        )

    def _engine(self, row: RowInHand) -> None:
        cell = row.cell("engine")
        if is_blank(cell):
            row.add("engine-missing", "The engine id is empty.", "Enter the serial.", "engine")
            return
        row.engine = text(cell)[:MAX_ID]
        raw = text(cell)
        if len(raw) > MAX_ID or not normalise_id(raw):
            row.add(
                "engine-unreadable",
                f"The engine id '{raw[:30]}' has {len(raw)} characters or no letter or digit.",
                f"Enter a serial of at most {MAX_ID} characters.",
                "engine",
            )

    def _hours(self, row: RowInHand, name: str) -> float | None:
        try:
            hours = parse_number(row.cell(name), self.decimal, what="a number of hours")
        except CellError as e:
            row.add(e.code, e.message, e.advice, name)
            return None
        if hours is None:
            return None
        if self.settings.hours.unit == "min":
            hours /= 60.0
        if not math.isfinite(hours) or not 0.0 <= hours <= MAX_HOURS:
            row.add(
                "hours-impossible",
                f"{hours:g} h cannot be the hours of an engine.",
                f"Hours lie between 0 and {MAX_HOURS:,.0f}.",
                name,
            )
            return None
        return hours

    def _meter(self, row: RowInHand) -> str:
        if is_blank(row.cell("meter")):
            return self.file.meter or self.settings.hours.meter
        word = row.text("meter")
        meter = meter_kind(word)
        if not meter:
            row.add(
                "meter-unknown",
                f"'{word[:30]}' is no meter kind.",
                did_you_mean(word, METER_WORDS),
                "meter",
            )
        return meter

    def _ending(self, row: RowInHand) -> tuple[str, str]:
        cause = "" if is_blank(row.cell("cause")) else row.text("cause")
        cause = self.causes.get(plain_name(cause), cause) if cause else ""
        cell = row.cell("ending")
        word = row.text("ending")
        known = self.endings.get(plain_name(word)) if word else None
        if known:
            return known, cause
        if word and plain_name(word) in ENDINGS_BY_WORD:
            ending, implied = ENDINGS_BY_WORD[plain_name(word)]
            return ending, cause or implied
        if is_blank(cell):
            row.add(
                "ending-missing",
                "The ending is empty.",
                "Write running if the engine is in service; else how it ended.",
                "ending",
            )
            return "running", cause
        if "overhaul" in word.casefold():
            advice = (
                "Write planned-overhaul if it was due, removed-finding if it was done because of "
                "a finding: the two say different things."
            )
        else:
            advice = did_you_mean(word, ENDINGS)
        row.add("ending-unknown", f"'{word[:40]}' is no known ending.", advice, "ending")
        return "running", cause

    def _date(self, row: RowInHand, name: str) -> dt.date | None:
        try:
            return parse_date(row.cell(name), self.day_first)
        except CellError as e:
            row.add(e.code, f"{e.message} It is left out.", e.advice, name)
            return None

    def _flag(self, row: RowInHand, name: str) -> bool | None:
        try:
            return parse_flag(row.cell(name))
        except CellError as e:
            row.add(e.code, e.message, e.advice, name)
            return None

    def _extra(self, row: RowInHand) -> dict[str, float]:
        out: dict[str, float] = {}
        for name in self.settings.groups.covariates:
            try:
                x = parse_number(row.cell(name), self.decimal, code="covariate-unreadable")
            except CellError as e:
                row.add(e.code, e.message, e.advice, name)
                continue
            if x is None:
                continue
            if abs(x) > 1e12 or not math.isfinite(x):
                row.add(
                    "covariate-unreadable", f"{x:g} is no usable covariate.", "Correct it.", name
                )
            else:
                out[name] = x
        for name in ("note", "cause", "build", "source"):
            cell = row.cell(name)
            if isinstance(cell, str) and len(cell) > MAX_TEXT:
                row.add(
                    "text-cut",
                    f"The text has {len(cell):,} characters; {MAX_TEXT:,} are kept.",
                    "Shorten it.",
                    name,
                )
        return out

    def _count(self, row: RowInHand) -> int:
        try:
            n = parse_number(row.cell("count"), self.decimal, what="a count",
                             code="count-unreadable")  # fmt: skip
        except CellError as e:
            row.add(e.code, e.message, e.advice, "count")
            return 1
        if n is None:
            return 1
        if not 1 <= n <= MAX_COUNT or n != int(n):
            row.add(
                "count-unreadable",
                f"{n:g} is no count of engines.",
                f"A whole number from 1 to {MAX_COUNT:,}; empty means 1.",
                "count",
            )
            return 1
        return int(n)
