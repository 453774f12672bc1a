"""Words for a date, and dates with a short year, read into a span of days with how it was read.

A date that names its day and its whole year is read by `cells`.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from fleetstats.tables.cells import FIRST_YEAR, CellError, parse_date, text
from fleetstats.tables.doubt import LONGEST
from fleetstats.vocabulary.doubt.months import MONTHS
from fleetstats.vocabulary.doubt.words import ABOUT, PART_OF, alternatives
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import SHORT_YEARS_BACK

ABOUT_DAYS = 15
"""To either side of a day told as "about" it: half a month."""


@dataclass(frozen=True, slots=True)
class DayDoubt:
    """A date told in words: one of the days from `low` to `high`.

    Parameters
    ----------
    low, high : date
    how : str
        How it was read: short-year, month, quarter, year or about.
    """

    low: dt.date
    high: dt.date
    how: str

    @property
    def middle(self) -> dt.date:
        """Return the day in the middle, the earlier of two."""
        return self.low + (self.high - self.low) // 2


def _pattern(expression: str) -> re.Pattern[str]:
    return re.compile(expression, re.IGNORECASE)


_YEAR = r"(?P<y>(?:19|20)[0-9]{2})"
_MONTH = r"(?P<m>0?[1-9]|1[0-2])"
_NAME = r"(?P<name>[^\W\d_]{3,})\.?"
_JOINT = r"(?:\s+(?:de\s+|del\s+|of\s+)?|\s*[-/.]\s*)"
_WHOLE = [
    _pattern(rf"{_YEAR}-{_MONTH}"),
    _pattern(rf"{_YEAR}\s?[/.]\s?{_MONTH}"),
    _pattern(rf"{_MONTH}\s?[-/.]\s?{_YEAR}"),
    _pattern(rf"{_NAME}{_JOINT}{_YEAR}"),
    _pattern(rf"{_YEAR}{_JOINT}{_NAME}"),
    _pattern(rf"{_NAME}\s*(?:[-/]|\s?['’])\s*(?P<yy>[0-9]{{2}})"),
    _pattern(rf"(?P<q>[1-4])\.?\s?(?:Q|quarter|quartal|trimestre|kwartaal)[\s/-]*{_YEAR}"),
    _pattern(rf"Q\s?(?P<q>[1-4])[\s/-]*{_YEAR}"),
    _pattern(rf"{_YEAR}[\s/-]*Q\s?(?P<q>[1-4])"),
    _pattern(_YEAR),
]
_YEARS = _pattern(rf"{_YEAR}\s?[-/\u2013]\s?(?P<next>[0-9]{{2}}|(?:19|20)[0-9]{{2}})")
_HEDGED = _pattern(
    rf"(?:(?P<about>{alternatives(ABOUT)})|(?P<part>{alternatives(PART_OF)}))[\s-]*(?P<rest>.+)"
)
_SHORT = re.compile(
    r"(?P<d>[0-9]{1,2})(?P<j>[./-])\s?(?P<m>[0-9]{1,2})(?P=j)\s?['’]?(?P<yy>[0-9]{2})"
)
_SHORT_NAMED = _pattern(rf"(?P<d>[0-9]{{1,2}})[\s./-]*{_NAME}[\s./-]*['’]?(?P<yy>[0-9]{{2}})")


def read_day_doubt(cell: Any, day_first: bool | None, until: dt.date | None) -> DayDoubt | None:
    """Return a date that a cell tells in words, or None where no rule understands it.

    A year of two digits is the latest that makes no date after the analysis date, at most
    `SHORT_YEARS_BACK` years before it; without an analysis date such years are not read. No
    interval goes past the analysis date unless all of it does.

    Parameters
    ----------
    cell : Any
        As the table holds it: a text, or a year as a whole number.
    day_first : bool or None
        Whether days stand before months in dates with slashes.
    until : date or None
        Analysis date.
    """
    whole = isinstance(cell, str) or (
        isinstance(cell, int | float) and not isinstance(cell, bool) and cell == cell // 1
    )
    shown = text(cell) if whole else ""
    if not shown or len(shown) > LONGEST:
        return None
    told = _days(shown, day_first, until)
    if told is None or until is None or told.low > until:
        return told
    return DayDoubt(told.low, min(told.high, until), told.how)


def _days(shown: str, day_first: bool | None, until: dt.date | None) -> DayDoubt | None:
    if found := _SHORT.fullmatch(shown):
        return _short(found, day_first, until)
    if (found := _SHORT_NAMED.fullmatch(shown)) and fold(found["name"]) in MONTHS:
        return _short_day(int(found["d"]), MONTHS[fold(found["name"])], int(found["yy"]), until)
    if (whole := _whole(shown, until)) is not None:
        return whole
    if not (found := _HEDGED.fullmatch(shown)):
        return None
    return _hedged(found, day_first, until)


def _hedged(found: re.Match[str], day_first: bool | None, until: dt.date | None) -> DayDoubt | None:
    """Return a part of a month or year as the whole, and "about" one as one more to either side."""
    whole = _whole(found["rest"], until)
    if found["part"]:
        return whole
    if whole is None:
        try:
            day = parse_date(found["rest"], day_first)
        except CellError:
            return None
        if day is None:
            return None
        by = dt.timedelta(days=ABOUT_DAYS)
        return DayDoubt(day - by, day + by, "about")
    span = whole.high - whole.low + dt.timedelta(days=1)
    return DayDoubt(whole.low - span, whole.high + span, "about")


def _whole(shown: str, until: dt.date | None) -> DayDoubt | None:
    """Return the month, quarter, year or years that a text names."""
    if found := _YEARS.fullmatch(shown):
        first, told = int(found["y"]), found["next"]
        last = int(told) if len(told) == 4 else first // 100 * 100 + int(told)
        iso = len(told) == 2 and "-" in shown and 1 <= int(told) <= 12
        if last == first + 1 and not iso:
            return _between((first, 1), (last, 12), "year")
    for pattern in _WHOLE:
        found = pattern.fullmatch(shown)
        if found is None:
            continue
        told_by = found.groupdict()
        month = MONTHS.get(fold(told_by["name"]), 0) if "name" in told_by else None
        if month == 0:
            continue
        month = int(told_by["m"]) if "m" in told_by else month
        if "yy" in told_by:
            assert month is not None
            year = _full_year(int(told_by["yy"]), month, 1, until)
            return None if year is None else _between((year, month), (year, month), "month")
        year = int(told_by["y"])
        if "q" in told_by:
            quarter = int(told_by["q"])
            return _between((year, 3 * quarter - 2), (year, 3 * quarter), "quarter")
        if month is None:
            return _between((year, 1), (year, 12), "year")
        return _between((year, month), (year, month), "month")
    return None


def _between(first: tuple[int, int], last: tuple[int, int], how: str) -> DayDoubt | None:
    if first[0] < FIRST_YEAR:
        return None
    end = calendar.monthrange(*last)[1]
    return DayDoubt(dt.date(*first, 1), dt.date(*last, end), how)


def _short(found: re.Match[str], day_first: bool | None, until: dt.date | None) -> DayDoubt | None:
    a, b = int(found["d"]), int(found["m"])
    if found["j"] == ".":
        day_first = True  # as everywhere that points are used
    if day_first is None and a <= 12 and b <= 12 and a != b:
        return None
    first = day_first if day_first is not None else a > 12
    return _short_day(a if first else b, b if first else a, int(found["yy"]), until)


def _short_day(day: int, month: int, yy: int, until: dt.date | None) -> DayDoubt | None:
    year = _full_year(yy, month, day, until)
    if year is None:
        return None
    told = dt.date(year, month, day)
    return DayDoubt(told, told, "short-year")


def _full_year(yy: int, month: int, day: int, until: dt.date | None) -> int | None:
    """Return the latest year with these last digits in which the day is not after the last."""
    if until is None:
        return None
    for century in (until.year // 100, until.year // 100 - 1):
        year = 100 * century + yy
        try:
            told = dt.date(year, month, day)
        except ValueError:
            continue  # 29 February of another century
        if told <= until:
            return year if until.year - year <= SHORT_YEARS_BACK else None
    return None
