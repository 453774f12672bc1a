"""Record shape "histories": each row told as events of a log, which become lives as a log does.

One row is one engine. It is used whole or not at all: where one thing that it tells cannot be used,
the row is set aside with the reason, so that no life is counted of which a part is doubtful.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from fleetstats.records.histories.as_log import AsLog
from fleetstats.records.histories.occasions import (
    ENTRY,
    NOW,
    Occasion,
    date_of,
    filled,
    find_occasions,
    hours_of,
)
from fleetstats.records.histories.order import OddOrder, Rules, in_order_told
from fleetstats.records.histories.unfold import WHY, ToldEvent, Unfolding
from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.lives.lives import tell_all_from_new
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Reading
from fleetstats.records.rows.meaning import Meaning, Ways, read_cell
from fleetstats.records.rows.reader import Account
from fleetstats.records.rows.row import RowInHand, check_decided, check_marks
from fleetstats.records.set_aside import SetAside
from fleetstats.records.told import count_words, has_maps
from fleetstats.records.treated import action_of
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, is_blank
from fleetstats.tables.columns import match_columns
from fleetstats.tables.history_columns import HistoryColumns, find_columns
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.fields.histories import STATUS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.totals import reads_as_total

Replay = Callable[[tuple[LogEvent, ...], Settings], Reading]
"""What makes lives of the events of a log: lives, findings, rows set aside, events aligned."""

ORDERS = {True: "day-first", False: "month-first", None: "auto"}

NOT_TOLD_AGAIN = ("column-unused",)
"""Findings on the table of events that were told of the table of histories already."""


def read_histories(
    table: RawTable, file: RecordFile, settings: Settings, replay: Replay
) -> Reading:
    """Read a table of histories to lives.

    Parameters
    ----------
    table : RawTable
        The file's header and lines.
    file : RecordFile
        Its columns, its words, what its repairs renewed, and what its hours do after a change of
        the meter.
    settings : Settings
        As for a log.
    replay : callable
        What makes lives of the events of a log.

    Returns
    -------
    Reading
        Lives on the standard clock; `events` are those of the rows used, on their rows.
    """
    columns = find_columns(table, file, settings.categories.columns)
    table = columns.table
    findings = [*table.findings, *columns.match.findings]
    account: Account[int] = Account(table, file.source, findings=findings)
    reading = Reading(
        file=table.file, shape="histories", source=file.source, sheet=table.sheet,
        lines=tuple(r.row for r in table.rows), n_blank=table.n_blank,
    )  # fmt: skip
    if not columns.match.usable:
        account.take_none(columns.match)
        return replace(reading, findings=tuple(account.findings),
                       set_aside=tuple(account.set_aside))  # fmt: skip
    rows = _HistoryRows(columns, file, settings, account)
    rows.read()
    stated = replace(file, shape="log", columns={}, kinds={}, decimal=rows.ways.decimal,
                     date_order=ORDERS[rows.ways.day_first])  # fmt: skip
    return _replayed(reading, rows, stated, replay)


@dataclass(slots=True)
class _HistoryRows:
    """The rows of one file, told as events one after the other."""

    columns: HistoryColumns
    file: RecordFile
    settings: Settings
    account: Account[int]
    ways: Ways = field(init=False)
    log: AsLog = field(init=False)
    rules: Rules = field(init=False)
    renews: dict[str, str] = field(init=False)
    status: Meaning = field(init=False)
    odd: AsLog = field(init=False)
    first: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        c, f = self.columns, self.file
        told, odd = settle_file(c.table, f, c.match.index, numbers=c.hour_names, dates=c.date_names)
        self.account.findings += odd
        unit = self.settings.hours.unit
        self.ways = Ways(decimal=told.decimal, day_first=told.day_first, unit=unit)
        self.log = AsLog(c, self.settings.categories.columns)
        self.odd = AsLog(c, self.settings.categories.columns)
        restarts = self.settings.hours.log_hours == "since-overhaul"
        self.rules = Rules(after_change=f.after_meter_change, restarts=restarts)
        self.renews = {fold(w): r for w, r in f.renews.items()}
        own = {fold(w): (e, "") for w, e in f.endings.items()}
        self.status = Meaning("ending", "ending", words=ENDINGS_BY_WORD | own)

    def read(self) -> None:
        """Tell every row as events, or set it aside."""
        table = self.columns.table
        if "entry_hours" not in self.columns.match.index and table.rows:
            self.account.findings.append(tell_all_from_new(self.settings, table.file, table.sheet))
        renewed = 0
        for raw in table.rows:
            row = RowInHand(table=table, row=raw, match=self.columns.match, handle=self._handle)
            row.engine = "" if is_blank(row.cell("engine")) else row.text("engine")
            told = [] if check_decided(row) else self._read(row)
            check_marks(row)
            self.account.take(row, None if row.broken else raw.row)
            if row.broken:
                self.odd.add(raw, self._as_it_stands(row))
            else:
                self.log.add(raw, told)
                renewed += any(t.cells["kind"] == "overhauled" for t in told)
        hours = self.settings.hours
        if renewed and hours.basis == "since-new" and not hours.component:
            self.account.findings.append(
                make_finding("history-age-since-new", file=table.file, sheet=table.sheet, n=renewed)
            )

    def _handle(self, key: str, hard: bool) -> tuple[str, bool]:
        action = action_of(key, self.settings)
        return action, (hard and action != "accept") or action == "set-aside"

    def _read(self, row: RowInHand) -> list[ToldEvent]:
        """Return the events of a row; what keeps it out goes to the row."""
        engine = normalise_id(row.engine)
        if not engine or engine == EXAMPLE_ENGINE or reads_as_total(row.engine):
            return self._as_it_stands(row)  # the reader of logs says what the line is
        if engine in self.first:
            row.add("history-engine-twice", "engine", first=self.first[engine])
            return []
        self.first[engine] = row.row.row
        end, cause = self._status(row)
        ends = end in ("failed", "removed")
        told_of = find_occasions(row, self.columns, self.ways, ends=ends)
        occasions = [self._entry(row), *told_of]
        now = self._now(row, cause)
        if now is not None:
            occasions.append(now)
        try:
            told = in_order_told(occasions, self.rules)
            walk = Unfolding(row, self.renews, self.rules, end=end, end_cause=cause)
            out = walk.walk(told)
        except OddOrder as e:
            row.add(e.key, e.column, **e.fields)
            return []
        if now is None and end not in ("reading", "lost") and walk.left is None:
            row.add("history-hours-missing/told", "ending", what=NOW, word=row.text("ending")[:40])
        return out

    def _as_it_stands(self, row: RowInHand) -> list[ToldEvent]:
        """Return what a row that is not used tells, for the ledger of trouble alone."""
        bare = replace(row, findings=[])
        walk = Unfolding(bare, self.renews, self.rules)
        for o in find_occasions(bare, self.columns, self.ways, all_told=True):
            walk.tell(o)
        word = row.cell("ending")
        out = [self._entry_event(row), *walk.out]
        if not is_blank(word):
            kind = {"kind": word, "hours": row.cell("hours_now")}
            out.append(ToldEvent(kind, {"kind": "ending", "hours": "hours_now"}))
        return out

    def _entry(self, row: RowInHand) -> Occasion:
        """Return the start of what was seen of an engine: from new, or first heard of."""
        cell = row.cell("entry_hours")
        hours = 0.0 if is_blank(cell) else hours_of(cell, self.ways)
        new = date_of(row.cell("in_service_date"), self.ways)
        since = date_of(row.cell("observed_from_date"), self.ways) or self.file.observed_from
        if is_blank(cell) and new is not None and since is not None and new < since:
            row.add("entry-missing", "entry_hours", new=new, since=since)
        seen = bool(hours) or (hours is None)
        day = "observed_from_date" if seen else "in_service_date"
        told = self._entry_event(row, seen=seen)
        date = date_of(row.cell(day), self.ways)
        return Occasion(ENTRY, hours=hours, date=date, names=told.names, cells=told.cells)

    def _entry_event(self, row: RowInHand, *, seen: bool = False) -> ToldEvent:
        day = "observed_from_date" if seen else "in_service_date"
        cell = row.cell("entry_hours")
        return ToldEvent(
            {"kind": "reading" if seen else "installed", "hours": 0 if is_blank(cell) else cell,
             "date": row.cell(day)},
            {"kind": "entry_hours", "hours": "entry_hours", "date": day},
        )  # fmt: skip

    def _now(self, row: RowInHand, cause: str) -> Occasion | None:
        """Return the last reading; what is told of a failure without hours is told of it."""
        cell = filled(row.cell("hours_now"))
        if cell is None:
            return None
        day = row.cell("last_reading_date")
        names = {"hours": "hours_now", "date": "last_reading_date", "kind": "ending"}
        cells: dict[str, Any] = {"hours": cell, "date": None if is_blank(day) else day}
        of_failures = [h for h in self.columns.heads if h.happening == "failed"]
        dated = {h.number for h in of_failures
                 if h.told == "hours" and filled(row.cell(h.name)) is not None}  # fmt: skip
        free = min({h.number for h in of_failures} - dated, default=0)
        for h in of_failures:
            if h.number == free and h.told in WHY and not cause:
                cells[h.told], names[h.told] = filled(row.cell(h.name)), h.name
        return Occasion(
            NOW, hours=hours_of(cell, self.ways), date=date_of(day, self.ways), names=names,
            cells=cells,
        )  # fmt: skip

    def _status(self, row: RowInHand) -> tuple[str, str]:
        """Return what the status now tells, as an event of a log with the cause it implies."""
        word = "" if is_blank(row.cell("ending")) else row.text("ending")
        if not word:
            return "reading", ""
        try:
            ending, implied = read_cell(self.status, self.ways, word)
        except CellError as e:
            row.add(e.key, "ending", **e.fields)
            return "reading", ""
        if ending not in STATUS:
            row.add("history-ending", "ending", word=word[:40])
            return "reading", ""
        kind, cause = STATUS[ending]
        return kind, implied or cause


def _replayed(reading: Reading, rows: _HistoryRows, stated: RecordFile, replay: Replay) -> Reading:
    """Return what the events of the rows tell, given back to their rows."""
    log, account, settings = rows.log, rows.account, rows.settings
    table = log.table()
    read = read_log_events(table, stated, settings)
    out = {log.row_of(s.row) for s in read.set_aside}
    told = replay(tuple(e for e in read.events if log.row_of(e.row) not in out), settings)
    lost = [s for s in told.set_aside if not _is_spent(s, told, log)]
    aside = _by_row([*account.set_aside, *map(log.aside, read.set_aside), *map(log.aside, lost)])
    lives = [x for x in told.rows if log.row_of(x.origin.row) not in aside]
    found = [f for f in read.findings if f.code not in NOT_TOLD_AGAIN]
    seen = [*account.findings, *map(log.finding, (*found, *told.findings))]
    words = None
    if has_maps(rows.file):
        match = match_columns(table, LOG_FIELDS, {}, categories=settings.categories.columns)
        words = count_words(table, stated, match.index)
    return replace(
        reading,
        rows=tuple(map(log.life, lives)),
        events=tuple(e for e in map(log.event, told.events) if e.row not in aside),
        findings=_once(seen),
        set_aside=tuple(aside.values()),
        engines=tuple({e.engine_id: e.engine for e in read.events}.values()),
        factors=told.factors,
        told=words,
        trouble=(*log.hints(read.trouble, lives), *_hints_of_odd(rows, stated)),
    )


def _hints_of_odd(rows: _HistoryRows, stated: RecordFile) -> tuple[Hinted, ...]:
    """Return what hints at trouble in rows that are not used."""
    table = rows.odd.table()
    match = match_columns(table, LOG_FIELDS, {}, categories=rows.settings.categories.columns)
    scanner = Scanner(rows.settings, stated, "log", match, table, rows.ways.decimal)
    return rows.odd.hints(scanner.scan(table.rows), ())


def _is_spent(s: SetAside, told: Reading, log: AsLog) -> bool:
    """Return whether an event is without hours of its own in a row that has lives all the same."""
    row = log.row_of(s.row)
    return s.reason == "log-no-exposure" and any(log.row_of(x.origin.row) == row for x in told.rows)


def _by_row(aside: list[SetAside]) -> dict[int, SetAside]:
    out: dict[int, SetAside] = {}
    for s in aside:
        out.setdefault(s.row, replace(s, into=""))
    return out


def _once(findings: list[Finding]) -> tuple[Finding, ...]:
    """Return findings without those that say the same of one cell: a row is several events."""
    seen: dict[tuple[object, ...], Finding] = {}
    for f in findings:
        seen.setdefault((f.code, f.row, f.column, f.message), f)
    return tuple(seen.values())
