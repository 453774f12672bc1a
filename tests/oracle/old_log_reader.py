"""A table of events read: each row an event, or set aside with its reason."""

from __future__ import annotations

import math
from typing import Any

from oracle.old_hours import parse_hours
from oracle.old_life_checks import check_marks
from oracle.old_life_row import RowInHand

from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Reading
from fleetstats.records.set_aside import SetAside
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import (
    CellError,
    find_day_first,
    find_decimal,
    is_blank,
    parse_date,
    parse_flag,
    parse_number,
    text,
)
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.events import EVENTS_BY_WORD, KINDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Finding, Origin, make_finding
from fleetstats.vocabulary.findings import entry_of, say_finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.meters import METER_WORDS, meter_kind
from fleetstats.vocabulary.nearest import did_you_mean
from fleetstats.vocabulary.unknown import cause_known

_HOURS = {
    "hours": "hours",
    "since_new_hours": "since_new_h",
    "since_overhaul_hours": "since_overhaul_h",
    "new_reading_hours": "new_reading_h",
}


def read_log_events(table: RawTable, file: RecordFile, settings: Settings) -> Reading:
    """Read the events of a log.

    Parameters
    ----------
    table : RawTable
        The file's header and lines.
    file : RecordFile
        Its column mapping, source, meter and the words for events and causes.
    settings : Settings
        `hours.unit` of its hours, `treat` for findings.

    Returns
    -------
    Reading
        `events` are LogEvent in hours of their meters, not yet replayed; a line whose engine, kind
        or hours cannot be read is set aside with a finding.
    """
    match = match_columns(table, LOG_FIELDS, file.columns)
    lines = tuple(r.row for r in table.rows)
    findings = [*table.findings, *match.findings]
    aside: list[SetAside] = []
    events: list[LogEvent] = []
    if match.usable:
        reader = _RowReader(table, file, settings, match)
        for row in table.rows:
            event = reader.read(row)
            if event is not None:
                events.append(event)
        findings += reader.findings
        aside = reader.set_aside
    else:
        why = next(f for f in match.findings if f.severity == "error")
        aside = [
            SetAside(
                file=table.file, row=n, reason=why.code, message=why.message, source=file.source
            )
            for n in lines
        ]
    return Reading(
        file=table.file,
        shape="log",
        source=file.source,
        events=tuple(events),
        findings=tuple(findings),
        set_aside=tuple(aside),
        lines=lines,
        n_blank=table.n_blank,
        engines=tuple(dict.fromkeys(e.engine for e in events)),
    )


class _RowReader:
    """Reads lines by conventions settled once for the file."""

    def __init__(
        self,
        table: RawTable,
        file: RecordFile,
        settings: Settings,
        match: ColumnMatch,
    ) -> None:
        self.table, self.file, self.settings, self.match = table, file, settings, match
        self.index, self.shown = match.index, match.shown
        index = match.index
        self.findings: list[Finding] = []
        self.set_aside: list[SetAside] = []
        hours = [r.cells[index[n]] for n in _HOURS if n in index for r in table.rows]
        self.decimal = self.settle_decimal(hours) if file.decimal == "auto" else file.decimal
        dates = [r.cells[index["date"]] for r in table.rows] if "date" in index else []
        self.day_first = (
            find_day_first(dates) if file.date_order == "auto" else file.date_order == "day-first"
        )
        self.kinds = {fold(k): v for k, v in file.kinds.items()}
        self.causes = {fold(k): v for k, v in file.causes.items()}
        self.places: dict[str, str] = {}

    def settle_decimal(self, hours: list[Any]) -> str:
        mark = find_decimal(hours, self.table.delimiter)
        if mark == "ambiguous":
            shown = next(str(c) for c in hours if isinstance(c, str) and ("," in c or "." in c))
            self.findings.append(
                make_finding(
                    "decimal-ambiguous",
                    file=self.table.file,
                    sheet=self.table.sheet,
                    value=shown[:20],
                    example=shown[:20],
                )
            )
        elif mark == "mixed":
            self.findings.append(
                make_finding("decimal-mixed", file=self.table.file, sheet=self.table.sheet)
            )  # fmt: skip
        return mark if mark in (",", "mixed") else "."

    def cell(self, row: RawRow, name: str) -> Any:
        return row.cells[self.index[name]] if name in self.index else None

    def said(self, row: RawRow, name: str) -> str:
        """Return a cell's text; empty where it says nothing, as "n/a" does."""
        cell = self.cell(row, name)
        return "" if is_blank(cell) else text(cell)

    def cause_of(self, row: RawRow) -> str:
        """Return a cause in the study's words; empty where nobody knows it."""
        cause = text(self.cell(row, "cause"))
        cause = self.causes.get(fold(cause), cause)
        return cause if cause_known(cause) else ""

    def place_of(self, row: RawRow) -> str:
        """Return the place of a component as the file first spelled it."""
        place = self.said(row, "position")
        return self.places.setdefault(fold(place), place)

    def find(self, key: str, row: RawRow, name: str, **fields: Any) -> None:
        finding = pool_finding(
            key,
            Origin(file=self.table.file, row=row.row, sheet=self.table.sheet),
            self.settings,
            engine=text(self.cell(row, "engine")),
            column=self.shown.get(name, name),
            value=text(self.cell(row, name))[:80],
            **fields,
        )
        self.findings.append(finding)

    def drop(self, key: str, row: RawRow, name: str, *, hint: str = "", **fields: Any) -> None:
        self.find(key, row, name, hint=hint, **fields)
        # the account of rows repeats what is wrong, without the advice
        said = say_finding(key, hint="", **fields)
        self.put_aside(row, entry_of(key).code, said.sentence)

    def put_aside(self, row: RawRow, code: str, message: str) -> None:
        self.set_aside.append(
            SetAside(
                file=self.table.file,
                row=row.row,
                sheet=self.table.sheet,
                reason=code,
                message=message,
                engine=text(self.cell(row, "engine")),
                source=text(self.cell(row, "source")) or self.file.source,
            )
        )

    def read(self, row: RawRow) -> LogEvent | None:
        engine = self.said(row, "engine")
        marks = RowInHand(table=self.table, row=row, match=self.match, engine=engine)
        check_marks(marks)
        self.findings += marks.findings
        if marks.broken:
            self.put_aside(row, marks.broken, marks.findings[0].message)
            return None
        if not normalise_id(engine):
            self.drop("log-engine-missing", row, "engine")
            return None
        if normalise_id(engine) == EXAMPLE_ENGINE:
            self.drop("log-example-row", row, "engine")
            return None
        word = self.said(row, "kind")
        kind = self.kinds.get(fold(word)) or EVENTS_BY_WORD.get(fold(word))
        if kind is None:
            key = "log-kind-unknown/word" if word else "log-kind-unknown"
            hint = did_you_mean(word, KINDS)
            self.drop(key, row, "kind", hint=hint, word=word[:40])
            return None
        hours: dict[str, float | None] = {}
        unit = self.settings.hours.unit
        for name, ours in _HOURS.items():
            try:
                hours[ours] = parse_hours(self.cell(row, name), self.decimal, unit)
            except CellError as error:
                far = error.code == "hours-impossible"
                key = "log-hours-impossible" if far else "log-hours-unreadable"
                self.drop(key, row, name, hint=error.advice, trouble=error.message)
                return None
        word = self.said(row, "meter")
        meter = meter_kind(word) if word else self.file.meter
        if word and not meter:
            hint = did_you_mean(word, METER_WORDS)
            self.drop("log-meter-unknown", row, "meter", hint=hint, word=word[:40])
            return None
        return LogEvent(
            origin=Origin(file=self.table.file, row=row.row, sheet=self.table.sheet),
            engine=engine,
            kind=kind,
            date=self.soft(row, "date", lambda c: parse_date(c, self.day_first)),
            cause=self.cause_of(row),
            confirmed=self.soft(row, "confirmed", parse_flag),
            component=fold(self.said(row, "component")),
            serial=self.said(row, "serial"),
            position=self.place_of(row),
            build=self.said(row, "build"),
            meter=meter or self.settings.hours.meter,
            source=self.said(row, "source") or self.file.source,
            cost=self.soft(row, "cost", lambda c: self.finite(parse_number(c, self.decimal))),
            note=self.said(row, "note"),
            **hours,
        )

    def soft(self, row: RawRow, name: str, parse: Any) -> Any:
        """Return a cell's value; one that cannot be read is left out with a warning."""
        try:
            return parse(self.cell(row, name))
        except CellError as error:
            trouble, hint = error.message, error.advice
            self.find("log-cell-left-out", row, name, trouble=trouble, hint=hint)
            return None

    @staticmethod
    def finite(value: float | None) -> float | None:
        if value is not None and not math.isfinite(value):
            raise CellError("log-cell-left-out", "no-cost", x=value)
        return value
