"""A table of events read: each row an event, or set aside with its reason."""

from __future__ import annotations

from typing import Any

import numpy as np

from fleetstats.records.log.log_cells import LOG_HOURS, log_cells
from fleetstats.records.log.log_doubts import settle_day, settle_hours
from fleetstats.records.log.plain_events import read_plain_events
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Reading
from fleetstats.records.rows.meaning import Ways
from fleetstats.records.rows.reader import Account, RowReader, fill
from fleetstats.records.rows.row import RowInHand, check_decided, check_example, check_marks
from fleetstats.records.rows.totals import (
    ColumnSums,
    TotalLine,
    TotalsJudge,
    check_total,
    summed_hours,
)
from fleetstats.records.treated import action_of
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, is_blank
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.memo import Memo, texts_of
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold

LOG_COLUMNS = {
    "entry_hours": "hours",
    "exit_hours": "hours",
    "last_good_hours": "hours",
    "in_service_date": "date",
    "observed_from_date": "date",
    "last_reading_date": "date",
    "ended_date": "date",
}
"""Columns of a life, with the columns of a log that they are replayed from."""


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
    match = match_columns(table, LOG_FIELDS, file.columns, categories=settings.categories.columns)
    account: Account[LogEvent] = Account(
        table, file.source, findings=[*table.findings, *match.findings]
    )
    trouble = Scanner(settings, file, "log", match, table)
    if match.usable:
        told, odd = settle_file(table, file, match.index, numbers=LOG_HOURS, dates=("date",))
        account.findings += odd
        trouble.decimal = told.decimal
        ways = Ways(decimal=told.decimal, day_first=told.day_first, unit=settings.hours.unit,
                    until=settings.study.analysis_date)  # fmt: skip
        reader = RowReader(log_cells(file, settings), match.index, ways, first_only=True)
        places: dict[str, str] = {}
        totals = _find_totals(table, match, reader, ways)
        plain = read_plain_events(table, reader, settings.categories.columns, totals)
        for i, raw in enumerate(table.rows):
            event = plain[i]
            if event is not None:
                account.rows.append(event)
                continue
            row = RowInHand(table=table, row=raw, match=match)
            row.engine = "" if is_blank(row.cell("engine")) else row.text("engine")
            if check_decided(row):
                account.take(row, None)
                continue
            check_marks(row)
            if i in totals and not row.broken:
                row.handle = lambda key, _hard: _by_study(key, settings)
                if check_total(row, totals[i]):
                    row.engine = ""
            account.take(row, None if row.broken else _read(row, reader, settings, places))
        account.tell_words()
    else:
        why = next(f for f in match.findings if f.severity == "error")
        account.take_none(match, why.message)
    return Reading(
        file=table.file,
        shape="log",
        source=file.source,
        events=tuple(account.rows),
        findings=tuple(account.findings),
        set_aside=tuple(account.set_aside),
        lines=tuple(r.row for r in table.rows),
        n_blank=table.n_blank,
        engines=tuple(dict.fromkeys(e.engine for e in account.rows)),
        trouble=trouble.scan(table.rows),
        heads=match.shown | {x: match.shown.get(n, n) for x, n in LOG_COLUMNS.items()},
    )


def _by_study(key: str, settings: Settings) -> tuple[str, bool]:
    action = action_of(key, settings)
    return action, action == "set-aside"


def _find_totals(
    table: RawTable, match: ColumnMatch, reader: RowReader, ways: Ways
) -> dict[int, TotalLine]:
    """Return the lines that are no event, by their place; hours of a log add up to no life."""
    judge = TotalsJudge(match, "kind", reader.parse["kind"])
    engine, at = match.index["engine"], match.index.get("hours")
    cells = [None if at is None else r.cells[at] for r in table.rows]
    plain = next((memo for m, _, memo in reader.steps if m.name == "hours"), None)

    def hours_of(cell: Any) -> float:
        try:  # a number that was read is not read again
            told = None if plain is None else plain(cell)
        except CellError:
            told = None
        return told if type(told) is float else summed_hours(cell, ways.decimal, ways.unit)

    summed = Memo(hours_of)
    hours = np.array(summed.each(cells), dtype=np.float64)
    named = [r.cells[engine] for r in table.rows]
    texts, only = texts_of(named)  # a log names each engine in many rows
    odd = {c for c in texts if judge.looks(c)}
    look = np.zeros(len(named), dtype=bool)
    if odd or not only:
        look[:] = [c in odd if type(c) is str else judge.looks(c) for c in named]
    found = ColumnSums().walk(hours, look, lambda i, n: judge.why(table.rows[i], n))
    return {i: x for i, x in found.items() if x.why != "id"}


def _read(
    row: RowInHand, reader: RowReader, settings: Settings, places: dict[str, str]
) -> LogEvent | None:
    """Read one row; `places` holds the place of a component as the file first spelled it."""
    row.engine = row.text("engine")
    row.handle = lambda key, hard: (action_of(key, settings), hard)
    if check_example(row, "log-example-row"):
        return None
    told = reader.read(row)
    settle_hours(row, told)
    if row.broken:
        return None
    reader.read_soft(row, told)
    settle_day(told)
    return fill(
        LogEvent,
        told,
        origin=Origin(file=row.table.file, row=row.row.row, sheet=row.table.sheet),
        component=fold(told["component"]),
        position=places.setdefault(fold(told["position"]), told["position"]),
        since_new_h=told["since_new_hours"],
        since_overhaul_h=told["since_overhaul_hours"],
        new_reading_h=told["new_reading_hours"],
        categories={n: told[n] for n in settings.categories.columns if told[n]},
    )
