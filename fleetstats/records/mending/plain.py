"""A plain value in place of an odd cell, where there is one; nothing is guessed beyond it.

What is proposed is never read by itself: a person takes it or not.
"""

from __future__ import annotations

import datetime as dt
import re

from fleetstats.tables.cells import CellError, parse_date
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD, FAILING_ENDINGS
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.ids import with_digits
from fleetstats.vocabulary.meters import METER_WORDS
from fleetstats.vocabulary.nearest import nearest
from fleetstats.vocabulary.trouble import hint_of

NEAR = 0.8
"""Likeness from which an unknown word is taken for a slip of a known one (0 to 1); no source."""

_UNIT = re.compile(r"(?<=[0-9])\s*(h|hr|hrs|hour|hours|std|stunden)\.?$", re.IGNORECASE)
_SWAPPED = (
    re.compile(r"(?P<m>[0-9]{1,2})\.(?P<d>[0-9]{1,2})\.(?P<y>[0-9]{4})"),
    re.compile(r"(?P<y>[0-9]{4})-(?P<d>[0-9]{1,2})-(?P<m>[0-9]{1,2})"),
)


def plain_number(shown: str) -> str:
    """Return the one number that a text can be, with a decimal point; blank where it is unclear.

    >>> plain_number("1,234.5"), plain_number("1O50"), plain_number("771hrs")
    ('1234.5', '1050', '771')
    >>> plain_number("1,234"), plain_number("lots")
    ('', '')
    """
    s = _UNIT.sub("", shown.strip())
    if not re.fullmatch(r"[0-9OoIl][0-9OoIl.,'’ \u00a0\u202f]*", s) or not re.search("[0-9]", s):
        return ""
    s = re.sub(r"(?<=[0-9])['’ \u00a0\u202f](?=[0-9]{3}(?![0-9]))", "", with_digits(s))
    marks = [c for c in s if c in ".,"]
    if len(set(marks)) == 2:
        decimal = marks[-1]
        other = "," if decimal == "." else "."
        if not re.fullmatch(rf"[0-9]{{1,3}}(\{other}[0-9]{{3}})+\{decimal}[0-9]+", s):
            return ""
        s = s.replace(other, "").replace(decimal, ".")
    elif len(marks) > 1:
        if not re.fullmatch(r"[0-9]{1,3}([.,][0-9]{3})+", s):
            return ""
        s = s.replace(marks[0], "")
    elif marks:
        whole, _, part = s.partition(marks[0])
        if len(part) == 3 and 1 <= len(whole) <= 3 and whole != "0":
            return ""
        s = f"{whole}.{part}".rstrip(".")
    return s if re.fullmatch(r"[0-9]+(\.[0-9]+)?", s) else ""


def plain_date(shown: str) -> str:
    """Return the one day that a text can be, as year-month-day; blank where it is unclear.

    >>> plain_date("05.13.2021"), plain_date("2021-13-05"), plain_date("03/04/2019")
    ('2021-05-13', '2021-05-13', '')
    """
    days = set()
    for first in (True, False):
        try:
            days.add(parse_date(shown, first))
        except CellError:
            continue
    for pattern in _SWAPPED:
        m = pattern.fullmatch(shown.strip())
        if m and int(m["d"]) > 12 >= int(m["m"]):
            try:
                days.add(dt.date(int(m["y"]), int(m["m"]), int(m["d"])))
            except ValueError:
                continue
    days.discard(None)
    return days.pop().isoformat() if len(days) == 1 else ""  # type: ignore[union-attr]


def near_word(shown: str, shape: str) -> str:
    """Return the known ending or event of which a word is a slip; blank where none is near.

    A word that hints at trouble is never brought near to one that tells of none.
    """
    if shape == "log":
        near = nearest(shown, EVENTS_BY_WORD, cutoff=NEAR)
        failing = near != "" and EVENTS_BY_WORD[near] in ("failed", "finding")
    else:
        near = nearest(shown, ENDINGS_BY_WORD, cutoff=NEAR)
        failing = near != "" and ENDINGS_BY_WORD[near][0] in FAILING_ENDINGS
    return near if failing or hint_of(shown) is None else ""


def near_meter(shown: str) -> str:
    """Return the kind of meter of which a word is a slip; blank where none is near."""
    return nearest(shown, METER_WORDS, cutoff=NEAR)
