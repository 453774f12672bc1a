"""One cell to one value: numbers, dates, yes or no, text. Conventions are settled per file."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from fleetstats.tables.table import MAX_TEXT, BadCell
from fleetstats.vocabulary.doubt.months import MONTHS
from fleetstats.vocabulary.findings.cells import say_cell
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import says_nothing

_SPACES = "\u00a0\u2007\u2009\u202f "
_PLAIN = re.compile(
    r"[+-]?[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]+)?|[+-]?\.[0-9]+(?:[eE][+-]?[0-9]+)?"
)
_DIGITS = re.compile(r"[0-9]+")
_SIMPLE = re.compile(r"[0-9]+\.[0-9]*")
_CLOCK = re.compile(r"([0-9]+):([0-5][0-9])(?::([0-5][0-9]))?")
UNIT_WORDS = r"hours?|hrs?\.?|h|stunden?|std\.?|heures?|horas?|ore|uren|uur"
"""Words behind a number that say that it is hours, as pieces of an expression."""

_UNIT = re.compile(rf"\s*(?:{UNIT_WORDS})$", re.IGNORECASE)
_AROUND = re.compile(r"^(?:[^\d.,+-][^\d]*(?=\d))|(?<=\d)[^\d.,]+$")
_YES = {"yes", "y", "true", "1", "x", "ja", "j", "oui", "confirmed", "found", "si", "sí"}
_NO = {"no", "n", "false", "0", "nein", "non", "not confirmed", "not found", "clean"}
_NAMED = re.compile(
    r"(?:(?P<a>[0-9]{1,2})(?:\.|st|nd|rd|th|er|º)?[ -]?(?:de |of )?)?(?P<name>[^\W\d_]{3,})\.?"
    r"(?(a)|[ ](?P<b>[0-9]{1,2})(?:st|nd|rd|th)?,)[ -]?(?:de |del )?(?P<y>[0-9]{4})"
)
FIRST_YEAR = 1900


class CellError(Exception):
    """A cell that cannot be what its column needs: the kind of finding, what is wrong, advice.

    `key` is the finding's code, with its case where the code has others than cells;
    `message` and `advice` are those of `trouble` in the catalogue of what may be wrong with a cell,
    or blank where the finding says it all; `fields` is what the finding's sentence names.
    """

    def __init__(self, key: str, trouble: str = "", **fields: Any) -> None:
        self.key = key
        self.fields = fields
        self.message = self.advice = ""
        if trouble:
            said = say_cell(trouble, **fields)
            self.message, self.advice = said.sentence, said.cure
            self.fields = fields | {"trouble": self.message, "hint": self.advice}
        super().__init__(self.message)

    @property
    def code(self) -> str:
        """Return the finding's code, without a case."""
        return self.key.partition("/")[0]


SHOWN_DIGITS = 10
SAME_FLOAT = 1e-13
"""Digits of a number that is shown, where it differs from them by no more than this share: what a
sheet's sum carries beyond them is how floats are held and nothing that somebody wrote."""


def text(cell: Any) -> str:
    """Return a cell as clean text: no control characters, one line, at most `MAX_TEXT` long.

    A sum that a sheet holds as 192125.4999999999 is 192125.5; `exact_text` keeps every digit.
    """
    if type(cell) is str and cell.isascii() and cell.isprintable() and "  " not in cell:
        return cell.strip()[:MAX_TEXT]  # most cells: what `exact_text` says of them, at once
    if type(cell) is float and math.isfinite(cell):
        short = float(f"{cell:.{SHOWN_DIGITS}g}")
        if abs(short - cell) <= SAME_FLOAT * abs(cell):
            cell = short
    return exact_text(cell)


def exact_text(cell: Any) -> str:
    """Return a cell as `text` does, a number with all digits that it is held with."""
    if cell is None:
        return ""
    if isinstance(cell, str) and cell.isascii() and cell.isprintable() and "  " not in cell:
        return cell.strip()[:MAX_TEXT]
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        if math.isnan(cell):
            return ""
        if math.isfinite(cell) and cell == int(cell) and abs(cell) < 1e15:
            return str(int(cell))
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        cell = cell.date()
    s = unicodedata.normalize("NFC", str(cell))
    s = " ".join("".join(c if c.isprintable() or c.isspace() else "" for c in s).split())
    return s[:MAX_TEXT]


def has_control(cell: Any) -> bool:
    """Return whether a text cell holds characters that cannot be printed (line breaks aside)."""
    if not isinstance(cell, str) or cell.isprintable():
        return False
    return any(not c.isprintable() and not c.isspace() for c in cell)


def is_blank(cell: Any) -> bool:
    """Return whether a cell says nothing."""
    if isinstance(cell, str):
        return not cell or says_nothing(text(cell))
    return cell is None or (isinstance(cell, float) and math.isnan(cell))


def _refuse_bad(cell: Any, what: str, code: str) -> None:
    if isinstance(cell, BadCell):
        raise CellError(code, "bad", why=cell.why, what=what)


def names_its_unit(cell: Any) -> bool:
    """Return whether a number says itself that it is hours: a duration, 1234:30, or "812 h"."""
    if isinstance(cell, dt.timedelta | dt.time):
        return True
    shown = text(cell) if isinstance(cell, str) else ""
    return bool(_UNIT.search(shown) or _CLOCK.fullmatch(shown))


NO_NUMBER = "hours-unreadable"
"""Code of a cell that is no number; the schema of another column says its own."""


def parse_number(cell: Any, decimal: str = ".", *, what: str = "a number") -> float | None:
    """Return a cell as a finite or infinite number, or None when it is blank.

    Accepts plain numbers, grouped thousands, a trailing ``h``, hours and minutes as ``1234:30``,
    and durations of a spreadsheet.

    Raises
    ------
    CellError
        If it is anything else; dates and formulas are named as such.
    """
    if type(cell) is str and (
        _DIGITS.fullmatch(cell) or (decimal == "." and _SIMPLE.fullmatch(cell))
    ):
        return float(cell)
    if is_blank(cell):
        return None
    _refuse_bad(cell, what, NO_NUMBER)
    if isinstance(cell, bool):
        raise CellError(NO_NUMBER, "flag-for-number", cell=cell, what=what)
    if isinstance(cell, int | float):
        # An integer of hundreds of digits has no float; it is as impossible as infinity.
        try:
            return float(cell)
        except OverflowError:
            return math.inf
    if isinstance(cell, dt.timedelta):
        return cell.total_seconds() / 3600.0
    if isinstance(cell, dt.time):
        return cell.hour + cell.minute / 60.0 + cell.second / 3600.0
    if isinstance(cell, dt.date):
        raise CellError(NO_NUMBER, "date-for-number", cell=cell, what=what)
    shown = text(cell)
    if shown.startswith("="):
        raise CellError(NO_NUMBER, "formula", shown=shown[:40], what=what)
    if "�" in shown:
        raise CellError(NO_NUMBER, "broken-character", shown=shown[:40])
    if decimal == "mixed":
        readings = {x for x in (_from_text(shown, "."), _from_text(shown, ",")) if x is not None}
        if len(readings) > 1:
            both = " or ".join(f"{x:g}" for x in sorted(readings))
            raise CellError(NO_NUMBER, "two-readings", shown=shown, readings=both)
        number = readings.pop() if readings else None
    else:
        number = _from_text(shown, decimal)
    if number is None:
        trouble = "no-number"
        if decimal == "." and re.fullmatch(r"[0-9.]*,[0-9]+", shown):
            trouble = "comma-among-points"
        elif decimal == "," and re.fullmatch(r"[0-9,]*\.[0-9]+", shown):
            trouble = "point-among-commas"
        mark = "," if decimal == "," else "."
        raise CellError(NO_NUMBER, trouble, shown=shown[:40], what=what, decimal=mark)
    return number


def _from_text(shown: str, decimal: str) -> float | None:
    s = _UNIT.sub("", shown.strip())
    for c in _SPACES + "'’":
        if c in s:
            # Spaces and apostrophes are separators of thousands only where the groups are right.
            if not re.fullmatch(
                rf"[+-]?[0-9]{{1,3}}(?:{re.escape(c)}[0-9]{{3}})+(?:[.,][0-9]+)?", s
            ):
                return None
            s = s.replace(c, "")
    clock = _CLOCK.fullmatch(s)
    if clock:
        h, m, sec = clock.groups()
        return float(h) + int(m) / 60.0 + int(sec or 0) / 3600.0
    other = "," if decimal == "." else "."
    if other in s:
        groups = (
            rf"[+-]?[0-9]{{1,3}}(?:{re.escape(other)}[0-9]{{3}})+(?:{re.escape(decimal)}[0-9]*)?"
        )
        if not re.fullmatch(groups, s):
            return None
        s = s.replace(other, "")
    if decimal == ",":
        s = s.replace(",", ".")
    if fold(s.lstrip("+-")) in ("inf", "infinity", "∞"):
        return -math.inf if s.startswith("-") else math.inf
    s = s.replace("\u2212", "-")
    return float(s) if _PLAIN.fullmatch(s) else None


def find_decimal(cells: Iterable[Any], delimiter: str = "") -> str:
    """Say which mark is the decimal one: ``"."``, ``","``, ``"mixed"`` or ``"ambiguous"``.

    ``1,234`` and ``1.234`` alone tell nothing; ``12,5`` and ``1.234,5`` do. Where nothing tells,
    the point is taken only in files whose cells are parted by commas, as the common practice is.
    """
    comma = point = doubt_comma = doubt_point = 0
    for cell in cells:
        if not isinstance(cell, str):
            continue
        s = _UNIT.sub("", _AROUND.sub("", cell.strip())).lstrip("+-")
        if not re.fullmatch(r"[0-9][0-9.,]*|[.,][0-9]+", s) or not re.search(r"[.,]", s):
            continue
        if "," in s and "." in s:
            comma, point = (
                comma + (s.rfind(",") > s.rfind(".")),
                point + (s.rfind(".") > s.rfind(",")),
            )
        elif re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", s):
            doubt_comma += 1
        elif re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", s):
            doubt_point += 1
        elif s.count(",") == 1:
            comma += 1
        elif s.count(".") == 1 or s.count(",") > 1:
            point += 1
        else:
            comma += 1
    if comma and point:
        return "mixed"
    if comma or point:
        return "," if comma else "."
    if doubt_comma or (doubt_point and delimiter not in (",", "")):
        return "ambiguous"
    return "."


def find_day_first(cells: Iterable[Any]) -> bool | None:
    """Say whether dates such as 03/04/2021 put the day first; None when nothing tells."""
    day = month = False
    for cell in cells:
        m = re.fullmatch(r"([0-9]{1,2})[/-]([0-9]{1,2})[/-](?:[0-9]{2}){1,2}", str(cell).strip())
        if m:
            a, b = int(m[1]), int(m[2])
            day |= a > 12 >= b
            month |= b > 12 >= a
    return None if day == month else day


def parse_date(cell: Any, day_first: bool | None = None) -> dt.date | None:
    """Return a cell as a date, or None when it is blank.

    Year-first dates, dates with points (day first, as everywhere they are used) and dates with a
    month's name are read as they stand; dates with slashes need `day_first` unless one of the
    numbers is above 12.

    Raises
    ------
    CellError
        With code ``date-unreadable``, ``date-ambiguous`` or ``date-impossible``.
    """
    if is_blank(cell):
        return None
    _refuse_bad(cell, "a date", "date-unreadable")
    if isinstance(cell, dt.datetime):
        return _within(cell.date())
    if isinstance(cell, dt.date):
        return _within(cell)
    shown = text(cell)
    if isinstance(cell, bool | int | float) or re.fullmatch(r"[0-9]{1,5}(\.[0-9]+)?", shown):
        raise CellError("date-unreadable", "number-for-date", shown=shown[:20])
    s = re.sub(r"[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?(Z|[+-][0-9:]{4,6})?$", "", shown)
    m = re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})", s) or re.fullmatch(
        r"([0-9]{4})([0-9]{2})([0-9]{2})", s
    )
    if m:
        return _make(int(m[1]), int(m[2]), int(m[3]), shown)
    m = re.fullmatch(r"([0-9]{1,2})\.\s?([0-9]{1,2})\.\s?([0-9]{4})", s)
    if m:
        return _make(int(m[3]), int(m[2]), int(m[1]), shown)
    m = re.fullmatch(r"([0-9]{1,2})[ -]([A-Za-z]{3})[a-z]*\.?[ -]([0-9]{4})", s)
    if m and fold(m[2]) in MONTHS:
        return _make(int(m[3]), MONTHS[fold(m[2])], int(m[1]), shown)
    m = _NAMED.fullmatch(s)
    if m and fold(m["name"]) in MONTHS:
        return _make(int(m["y"]), MONTHS[fold(m["name"])], int(m["a"] or m["b"]), shown)
    m = re.fullmatch(r"([0-9]{1,2})[/-]([0-9]{1,2})[/-]([0-9]{4})", s)
    if m:
        a, b, year = int(m[1]), int(m[2]), int(m[3])
        if day_first is None and a <= 12 and b <= 12 and a != b:
            raise CellError("date-ambiguous", "day-or-month", shown=shown)
        first = day_first if day_first is not None else a > 12
        return _make(year, b if first else a, a if first else b, shown)
    if re.fullmatch(r"[0-9]{1,2}[./-][0-9]{1,2}[./-][0-9]{2}", s):
        raise CellError("date-ambiguous", "short-year", shown=shown)
    raise CellError("date-unreadable", "no-date", shown=shown[:40])


def _make(year: int, month: int, day: int, shown: str) -> dt.date:
    try:
        return _within(dt.date(year, month, day))
    except ValueError:
        raise CellError("date-impossible", "no-day", shown=shown) from None


def _within(date: dt.date) -> dt.date:
    if date.year < FIRST_YEAR:
        raise CellError("date-impossible", "too-early", date=date, first_year=FIRST_YEAR)
    return date


def parse_flag(cell: Any) -> bool | None:
    """Return a cell as yes, no, or None when it is blank or says that nobody knows."""
    if is_blank(cell):
        return None
    if isinstance(cell, bool):
        return cell
    _refuse_bad(cell, "yes or no", "confirmed-unreadable")
    word = fold(text(cell))
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise CellError("confirmed-unreadable", "no-flag", shown=word[:40])
