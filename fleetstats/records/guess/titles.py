"""The day that a title above the column names says the sheet is of: "Engine list as of 30 Sep"."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from fleetstats.tables.cells import CellError, is_blank, parse_date, text
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.fold import without_accents
from fleetstats.vocabulary.tongues.titles import AS_OF

LONGEST_TITLE: Final = 200
MOST_WORDS: Final = 5
"""Words that a date has at most: "30 de septiembre de 2026"."""

_PHRASE = "|".join(
    re.escape(without_accents(w)).replace(r"\ ", r"\s+")
    for w in sorted(AS_OF, key=len, reverse=True)
)
_AS_OF = re.compile(rf"(?<!\w)(?:{_PHRASE})(?!\w)\s*[:.]?\s*(?P<rest>.*)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TitleDay:
    """The day of a title, with the title and where it stands."""

    day: dt.date
    shown: str
    place: str


def find_title_day(lines: Sequence[RawRow], place: str, day_first: bool | None) -> TitleDay | None:
    """Return the day that the lines above the column names say a sheet is of; the last told.

    A day counts only behind words that say so, or in the next filled cell: a day on which a list
    was printed, or a club was founded, is none to which records go.

    Parameters
    ----------
    lines : sequence of RawRow
        The lines above the column names.
    place : str
        File and sheet, for the reason.
    day_first : bool or None
        Whether days stand before months in the sheet; where that is not known, a date that may be
        read in two ways is not read.
    """
    out = None
    for line in lines:
        filled = [c for c in line.cells if not is_blank(c)]
        for i, cell in enumerate(filled):
            shown = text(cell)[:LONGEST_TITLE]
            said = _AS_OF.search(without_accents(shown))
            if not isinstance(cell, str) or said is None:
                continue
            told: object = said["rest"].strip()
            if not told and i + 1 < len(filled):
                told = filled[i + 1]
            day = _first_day(told, day_first)
            if day is not None:
                out = TitleDay(day, shown, f"{place} row {line.row}")
    return out


def _first_day(told: object, day_first: bool | None) -> dt.date | None:
    """Return the day that a cell, or the words behind "as of", begin with."""
    if not isinstance(told, str):
        return _day(told, day_first)
    words = told.split()
    for n in range(min(MOST_WORDS, len(words)), 0, -1):
        day = _day(" ".join(words[:n]).strip("()[];, "), day_first)
        if day is not None:
            return day
    return None


def _day(told: object, day_first: bool | None) -> dt.date | None:
    if isinstance(told, int | float):
        return None
    try:
        return parse_date(told, day_first)
    except CellError:
        return None
