"""Rows with nothing odd in them, told apart column by column.

Most rows of most files are plain: every cell is read as it stands and the hours are in order. They
are found here by columns, each different cell parsed once, by the very parsers that read rows one
by one; every other row is left to `LifeReader`, which says what is odd. So both ways give the same
lives, and only the odd rows cost time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.hours import to_hours
from fleetstats.records.lives.life_cells import DATE_COLUMNS
from fleetstats.records.lives.life_reader import LifeReader
from fleetstats.tables.cells import CellError, text
from fleetstats.tables.coded import Coded, Column, Numbers
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.tables.memo import Memo
from fleetstats.tables.table import MAX_TEXT
from fleetstats.vocabulary.limits import LEAST_READ_H

PLAIN_HOURS = ("entry_hours", "exit_hours", "last_good_hours")
"""Columns of hours that are read as they stand."""

UNUSUAL = ("overhauled_at_hours", "since_overhaul_hours", "modified_at_hours", "clock_doubt")
"""Columns whose every value needs the care of the row reader."""

NO_DAY = -1
"""Where a date is blank; dates are counted in days from the year 1."""

UNKNOWN, NO, YES = -1, 0, 1
"""A yes or no that may be blank."""


def day_of(date: dt.date | None) -> int:
    """Return a date as the number of its day; `NO_DAY` for none."""
    return NO_DAY if date is None else date.toordinal()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainRows:
    """Columns of n rows, of which those that are `plain` can be used as they stand.

    Parameters
    ----------
    plain : (n,) bool
        Only then are the row's other columns meant to be read.
    entry_h, exit_h, last_good_h : (n,) float
        Hours since new; `last_good_h` is NaN where none are given.
    entry_told : (n,) bool
        Whether the cell of the hours of entry is filled.
    end : (n,) int
        Number of the row's pair of ending and cause in `ends`.
    ends : list of (ending, cause)
    days : dict
        For each column of dates (n,) int; `NO_DAY` where blank.
    confirmed, found_at_teardown : (n,) int
        `YES`, `NO` or `UNKNOWN`.
    count : (n,) int
    labels : dict
        "source", "build", "meter": (n,) numbers and the different texts.
    """

    plain: Array
    entry_h: Array
    entry_told: Array
    exit_h: Array
    last_good_h: Array
    end: Array
    ends: list[tuple[str, str]]
    days: dict[str, Array]
    confirmed: Array
    found_at_teardown: Array
    count: Array
    labels: dict[str, tuple[Array, list[str]]] = field(default_factory=dict)


class _Columns:
    """The columns of one reading, and the rows that are still plain."""

    def __init__(self, reader: LifeReader, n: int, column: Column) -> None:
        self.reader = reader
        self.n = n
        self.column = column
        self.plain = np.ones(n, dtype=bool)
        self.known: dict[str, Coded | None] = {}

    def coded(self, name: str) -> Coded | None:
        """Return a column of cells; rows with characters that do not print are plain no more."""
        if name not in self.known:
            column = self.column(name)
            assert not isinstance(column, Numbers)
            if column is not None:
                odd = [type(c) is str and not c.isprintable() for c in column.cells]
                self.plain &= ~np.array(odd, dtype=bool)[column.codes]
            self.known[name] = column
        return self.known[name]

    def hours(self, name: str) -> Array:
        """Return a column of hours; NaN where blank."""
        column = self.column(name)
        if not isinstance(column, Numbers):
            return self.parse(name, np.nan, np.float64)
        hours = to_hours(column.values, self.reader.settings.hours.unit)
        m = self.reader.schema[name]
        with np.errstate(invalid="ignore"):
            odd = column.odd | (hours < m.least) | (hours > m.most)
        self.plain &= ~odd
        return np.where(odd, np.nan, hours)

    def parse(
        self, name: str, blank: Any, dtype: Any, parse: Callable[[Any], Any] | None = None
    ) -> Array:
        """Return a column as numbers; rows with a cell refused or in words are plain no more."""
        coded = self.coded(name)
        parse = parse or self.reader.parse[name]
        if coded is None:
            return np.full(self.n, blank, dtype=dtype)
        values, bad = [], []
        for cell in coded.cells:
            try:
                value = parse(cell)
            except CellError:
                value = None
                bad.append(True)
            else:
                in_words = isinstance(value, FigureDoubt | DayDoubt)
                value = None if in_words else value
                bad.append(in_words)
            values.append(blank if value is None else value)
        self.plain &= ~np.array(bad, dtype=bool)[coded.codes]
        return np.asarray(np.array(values, dtype=dtype)[coded.codes])

    def ends(self) -> tuple[Array, list[tuple[str, str]]]:
        """Return the number of each row's ending and cause, and the different ones."""
        end, cause = self.coded("ending"), self.coded("cause")
        assert end is not None
        if cause is None:
            cause = Coded(np.zeros(self.n, dtype=np.int64), [None])
        pairs, at = np.unique(end.codes * len(cause.cells) + cause.codes, return_inverse=True)
        out: list[tuple[str, str]] = []
        bad = []
        for pair in pairs.tolist():
            told = (end.cells[pair // len(cause.cells)], cause.cells[pair % len(cause.cells)])
            try:
                out.append(self.reader.end_of(*told))
                bad.append(False)
            except CellError:
                out.append(("", ""))
                bad.append(True)
        self.plain &= ~np.array(bad, dtype=bool)[at.ravel()]
        return at.ravel(), out

    def label(self, name: str) -> tuple[Array, list[str]]:
        """Return a column of texts; those that differ only in how they are written are one."""
        coded, parse = self.coded(name), self.reader.parse[name]
        if coded is None:
            return np.zeros(self.n, dtype=np.int64), [parse(None)]
        known: dict[str, int] = {}
        number, bad = [], []
        for cell in coded.cells:
            try:
                word = parse(cell)
                bad.append(False)
            except CellError:
                word = ""
                bad.append(True)
            number.append(known.setdefault(word, len(known)))
        self.plain &= ~np.array(bad, dtype=bool)[coded.codes]
        return np.array(number, dtype=np.int64)[coded.codes], list(known)


def find_plain(reader: LifeReader, n: int, column: Column, usable: Array) -> PlainRows:
    """Parse the columns of n rows and say which rows have nothing odd in them.

    Parameters
    ----------
    reader : LifeReader
        Whose parsers and rules decide.
    n : int
        Rows.
    column : callable
        Gives one of our columns by name, or None where the file has no such column.
    usable : (n,) bool
        Rows whose engine id is plain and whose line has no mark of its own.
    """
    c = _Columns(reader, n, column)
    c.plain &= usable
    for name in (
        *UNUSUAL,
        *reader.settings.groups.covariates,
        *reader.settings.categories.columns,
    ):
        filled = c.parse(name, False, np.bool_, _is_filled)
        c.plain &= ~filled
    entry_blank, exit_h, good = (c.hours(n) for n in PLAIN_HOURS)
    entry = np.nan_to_num(entry_blank, nan=0.0)
    as_day = _ordinal(reader)
    days = {name: c.parse(name, NO_DAY, np.int64, as_day) for name in DATE_COLUMNS}
    confirmed = c.parse("confirmed", UNKNOWN, np.int8)
    teardown = c.parse("found_at_teardown", UNKNOWN, np.int8)
    count = c.parse("count", 1, np.int64)
    end, ends = c.ends()
    labels = {name: c.label(name) for name in ("meter", "source", "build")}
    for name, m in reader.schema.items():
        coded = c.coded(name) if m.cut else None
        if coded is not None:
            short = [not isinstance(x, str) or len(x) <= MAX_TEXT for x in coded.cells]
            c.plain &= np.array(short, dtype=bool)[coded.codes]
    running = np.array([e == "running" for e, _ in ends], dtype=bool)[end]
    found = np.array([e == "found-at-check" for e, _ in ends], dtype=bool)[end]
    since = reader.file.observed_from
    from_day = np.where(
        days["observed_from_date"] != NO_DAY,
        days["observed_from_date"],
        NO_DAY if since is None else since.toordinal(),
    )
    new = days["in_service_date"]
    heard_late = np.isnan(entry_blank) & (new != NO_DAY) & (new < from_day)
    with np.errstate(invalid="ignore"):
        c.plain &= exit_h - entry >= LEAST_READ_H
        c.plain &= np.where(np.isnan(good), ~found, (entry <= good) & (good <= exit_h))
    c.plain &= ~heard_late & ~(running & (days["ended_date"] != NO_DAY))
    return PlainRows(
        plain=c.plain,
        entry_h=entry,
        entry_told=~np.isnan(entry_blank),
        exit_h=exit_h,
        last_good_h=good,
        end=end,
        ends=ends,
        days=days,
        confirmed=confirmed,
        found_at_teardown=teardown,
        count=count,
        labels=labels,
    )


def _is_filled(cell: Any) -> bool:
    return cell is not None and bool(text(cell))


def _ordinal(reader: LifeReader) -> Callable[[Any], int | DayDoubt | None]:
    # the columns of dates share their days
    as_day: Memo[dt.date | DayDoubt | None] = Memo(reader.parse[DATE_COLUMNS[0]])

    def parse(cell: Any) -> int | DayDoubt | None:
        day = as_day(cell)
        return day.toordinal() if isinstance(day, dt.date) else day

    return parse
