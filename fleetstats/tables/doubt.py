"""Words for a number, read into an interval with how it was read; never to one number.

A figure that stands by itself is read by `cells`; what no rule of this file understands stays
unreadable.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fleetstats.tables.cells import (
    UNIT_WORDS,
    CellError,
    names_its_unit,
    parse_number,
    text,
)
from fleetstats.vocabulary.doubt.words import (
    ABOUT,
    AT_LEAST,
    AT_MOST,
    OR_LESS,
    OR_MORE,
    RANGE_ANDS,
    RANGE_JOINS,
    RANGE_OPENS,
    alternatives,
)
from fleetstats.vocabulary.limits import ABOUT_SHARE


@dataclass(frozen=True, slots=True)
class FigureDoubt:
    """A number told in words: between `low` and `high`, which may be infinite.

    Parameters
    ----------
    low, high : float
        In the unit of the column, or in hours where `in_hours`.
    how : str
        How it was read: about, at-least, at-most, range or thousands.
    in_hours : bool
        Whether the words name hours themselves.
    """

    low: float
    high: float
    how: str
    in_hours: bool = False


LONGEST = 60
"""Characters of the longest text that is read as a number or a date; more is a note."""


# -- numbers ---------------------------------------------------------------------------------------

_UNIT = rf"(?:\s*(?:{UNIT_WORDS}))?"


def _figure(name: str) -> str:
    """Return the expression of one figure: its digits, a k for thousands, its unit."""
    return (
        rf"(?P<{name}>(?!0[0-9])[0-9](?:[0-9.,'’\s]*[0-9])?)"
        rf"(?P<k{name}>\s?k(?![^\W\d_]))?(?P<u{name}>{_UNIT})"
    )


def _pattern(expression: str) -> re.Pattern[str]:
    return re.compile(expression, re.IGNORECASE)


_A, _B = _figure("a"), _figure("b")
_DASH = r"\s*(?:-|\u2010|\u2011|\u2012|\u2013|\u2014|\.\.+|…)\s*"
_ABOUT = alternatives(ABOUT)
_RANGE = _pattern(
    rf"(?P<about>{_ABOUT}\s*)?(?:(?P<opens>{alternatives(RANGE_OPENS)})\s+)?{_A}"
    rf"(?:{_DASH}|\s+(?:{alternatives(RANGE_JOINS)}|(?P<and>{alternatives(RANGE_ANDS)}))\s+){_B}"
)
_AROUND = _pattern(rf"{_A}\s*(?:±|\+/-|\+-)\s*{_B}(?P<percent>\s*%)?")
_FIGURE = _pattern(_A)
_BEFORE = [
    ("about", _pattern(rf"{_ABOUT}\s*{_A}")),
    ("at-least", _pattern(rf"{alternatives(AT_LEAST)}\s*{_A}")),
    ("at-most", _pattern(rf"{alternatives(AT_MOST)}\s*{_A}")),
    ("about", _pattern(rf"{_A}\s*(?:\(\s*{_ABOUT}\s*\)|{_ABOUT})")),
    ("at-least", _pattern(rf"{_A}\s*{alternatives(OR_MORE)}")),
    ("at-most", _pattern(rf"{_A}\s*{alternatives(OR_LESS)}")),
]


def read_figure_doubt(cell: Any, decimal: str) -> FigureDoubt | None:
    """Return a number that a cell tells in words, or None where no rule understands it.

    "About" means the figure with, to either side, the larger of half the place of its last digit
    that is not 0 and `ABOUT_SHARE` of it; "1.2k" is rounded by that place as well.

    Parameters
    ----------
    cell : Any
        As the table holds it; only texts are read.
    decimal : str
        Decimal mark of the file, or ``"mixed"``.
    """
    if not isinstance(cell, str):
        return None
    shown = text(cell)
    if len(shown) > LONGEST or not any(c.isdigit() for c in shown):
        return None
    found = _RANGE.fullmatch(shown)
    if found and (not found["and"] or found["opens"]):
        return _range(found, decimal)
    if found := _AROUND.fullmatch(shown):
        return _around(found, decimal)
    for how, pattern in _BEFORE:
        if found := pattern.fullmatch(shown):
            return _one(found, how, decimal)
    found = _FIGURE.fullmatch(shown)
    return _one(found, "thousands", decimal) if found and found["ka"] else None


def _number(found: re.Match[str], name: str, decimal: str) -> float | None:
    """Return a figure of a match; None where it may be read in two ways, or in none."""
    digits = found[name]
    if re.fullmatch(rf"[1-9][0-9]{{0,2}}{re.escape(decimal)}[0-9]{{3}}", digits):
        return None  # "about 1.200" is no figure told to thousandths
    try:
        figure = parse_number(digits, decimal)
    except CellError:
        return None
    return None if figure is None else figure * (1000.0 if found[f"k{name}"] else 1.0)


def _in_hours(found: re.Match[str]) -> bool:
    units = [v for k, v in found.groupdict().items() if k in ("ua", "ub") and v]
    return any(names_its_unit(f"1 {u}") for u in units)


def half_place(figure: float) -> float:
    """Return half the place of the last digit of a figure that is not 0: 50 for 800."""
    told = Decimal(repr(figure)).as_tuple()
    zeros = next(k for k, digit in enumerate(reversed(told.digits)) if digit)
    return 0.5 * 10.0 ** (int(told.exponent) + zeros)


def _about(figure: float) -> float:
    return max(half_place(figure), ABOUT_SHARE * figure)


def _rounded(found: re.Match[str], name: str, figure: float) -> float:
    """Return by how much a figure in thousands may be rounded; another one is as it stands."""
    return half_place(figure) if found[f"k{name}"] and figure else 0.0


def _one(found: re.Match[str], how: str, decimal: str) -> FigureDoubt | None:
    figure = _number(found, "a", decimal)
    if figure is None or (figure == 0.0 and how != "at-least"):
        return None
    by = _about(figure) if how == "about" else _rounded(found, "a", figure)
    low = 0.0 if how == "at-most" else max(figure - by, 0.0)
    high = math.inf if how == "at-least" else figure + by
    return FigureDoubt(low, high, how, _in_hours(found))


def _range(found: re.Match[str], decimal: str) -> FigureDoubt | None:
    low, high = _number(found, "a", decimal), _number(found, "b", decimal)
    if low is None or high is None or low >= high:
        return None
    if found["kb"] and not found["ka"] and low < 1000.0:
        return None  # "1-2k" may mean 1 or 1,000
    below = _about(low) if found["about"] and low else _rounded(found, "a", low)
    above = _about(high) if found["about"] else _rounded(found, "b", high)
    return FigureDoubt(max(low - below, 0.0), high + above, "range", _in_hours(found))


def _around(found: re.Match[str], decimal: str) -> FigureDoubt | None:
    figure, by = _number(found, "a", decimal), _number(found, "b", decimal)
    if figure is None or not by:
        return None
    by = figure * by / 100.0 if found["percent"] else by
    return FigureDoubt(max(figure - by, 0.0), figure + by, "range", _in_hours(found))
