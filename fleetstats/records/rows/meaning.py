"""What the cells of one column mean: its kind, its limits, and the finding for each trouble.

A shape of records is a tuple of `Meaning`. `read_cell` is the one place where a cell becomes a
value, row by row or by whole columns, from a table at hand or from chunks.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass, field
from typing import Any

from fleetstats.records.hours import doubt_in_hours, in_hours
from fleetstats.tables.cells import CellError, is_blank, parse_date, parse_flag, parse_number, text
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt, read_day_doubt
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.meters import METER_WORDS, meter_kind
from fleetstats.vocabulary.nearest import did_you_mean
from fleetstats.vocabulary.unknown import cause_known

MAX_ID = 80
"""Longest id of an engine in tables of lives, in characters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """How a file writes: decimal mark, whether days stand before months, unit of its hours.

    `until` is the analysis date, after which no year of two digits can lie.
    """

    decimal: str
    day_first: bool | None
    unit: str = "h"
    until: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a cell of one column means.

    Parameters
    ----------
    name : str
        Our name of the column.
    kind : str
        hours, number, share (a number that may be in percent), date, flag, text (empty where it
        says nothing), literal (as it stands), or of words: cause, engine, meter, word, ending.
    what : str
        What it is, as sentences call it.
    blank : object
        What an empty cell means.
    least, most : float
        Limits, in hours where it is hours; `most` may name a column whose value is the limit.
    whole : bool
        Whether it counts something.
    words : mapping
        For words, each in the form of `fold` with what it means.
    known : tuple of str
        Words of ours to propose; those that `words` lead to where blank.
    missing, unreadable, impossible : str
        Findings on an empty cell, one that is no such thing, and one beyond the limits. Without
        `missing` it may be empty, without `impossible` it has no limits; without `unreadable` the
        finding is the kind's own.
    trouble : str
        What is wrong with a cell beyond the limits, of `vocabulary.findings.cells`.
    right : str
        What would be right; may name ``{most}``.
    soft : bool
        Whether the row is used without a cell that cannot be read.
    cut : bool
        Whether a text that is too long is told.
    doubt : bool
        Whether hours or a date may be told in words; the value is then a `FigureDoubt` or
        `DayDoubt`, of which the reader of the shape takes what it needs.
    """

    name: str
    kind: str
    _: KW_ONLY
    what: str = "a number"
    blank: Any = None
    least: float = 0.0
    most: float | str = math.inf
    whole: bool = False
    words: Mapping[str, Any] = field(default_factory=dict)
    known: tuple[str, ...] = ()
    missing: str = ""
    unreadable: str = ""
    impossible: str = ""
    trouble: str = ""
    right: str = ""
    soft: bool = False
    cut: bool = False
    doubt: bool = False


def read_cell(m: Meaning, ways: Ways, cell: Any, told: Mapping[str, Any] | None = None) -> Any:
    """Return what a cell means; `told` holds the row's values so far.

    Raises
    ------
    CellError
        With the key and the fields of the finding, if the cell is missing, no such thing, or beyond
        the limits.
    """
    try:
        value = _value(m, ways, cell)
    except CellError as e:
        doubted = _doubt(m, ways, cell) if m.doubt else None
        if doubted is None:
            e.key = m.unreadable or e.key
            raise
        value = doubted
    if value is None:
        if m.missing:
            raise CellError(m.missing, what=m.what, **_proposals(m, ""), **_limits(m, told))
        return m.blank
    if m.impossible and not _possible(m, value, told):
        limits = {"most": m.most} if m.trouble else _limits(m, told)
        if isinstance(value, FigureDoubt):
            value = value.low if math.isinf(value.high) else value.high
        raise CellError(m.impossible, m.trouble, x=value, what=m.what, **limits)
    return int(value) if m.whole else value


def _most(m: Meaning, told: Mapping[str, Any] | None) -> float:
    return (told or {})[m.most] if isinstance(m.most, str) else m.most


def _doubt(m: Meaning, ways: Ways, cell: Any) -> FigureDoubt | DayDoubt | None:
    """Return what a cell tells in words, or None where that is not understood."""
    if m.kind == "date":
        return read_day_doubt(cell, ways.day_first, ways.until)
    return doubt_in_hours(cell, ways.decimal, ways.unit)


def _possible(m: Meaning, x: Any, told: Mapping[str, Any] | None) -> bool:
    if isinstance(x, FigureDoubt):
        return m.least <= x.low <= _most(m, told) and (
            x.high <= _most(m, told) or math.isinf(x.high)
        )
    inside = math.isfinite(x) and m.least <= x <= _most(m, told)
    return inside and not (m.whole and x != int(x))


def _limits(m: Meaning, told: Mapping[str, Any] | None) -> dict[str, Any]:
    most = _most(m, told)
    top = f" to {most:,g}" if math.isfinite(most) else " or more"
    return {"least": m.least, "most": top, "right": m.right.format(most=most)}


def _proposals(m: Meaning, word: str) -> dict[str, Any]:
    if m.kind != "word":
        return {}
    known = m.known or tuple(dict.fromkeys(m.words.values()))
    return {"word": word[:40], "words": ", ".join(known), "hint": did_you_mean(word, known)}


def _value(m: Meaning, ways: Ways, cell: Any) -> Any:
    """Return what a cell of each kind means; None where it is empty."""
    match m.kind:
        case "hours":
            return in_hours(cell, ways.decimal, ways.unit, what=m.what)
        case "number":
            return parse_number(cell, ways.decimal, what=m.what)
        case "share":
            return _share(m, ways, cell)
        case "date":
            return parse_date(cell, ways.day_first)
        case "flag":
            return parse_flag(cell)
        case "text":  # "n/a" says nothing
            return None if is_blank(cell) else text(cell)
        case "literal":
            return text(cell) or None
        case _:
            return _OF_WORDS[m.kind](m, cell)


def _share(m: Meaning, ways: Ways, cell: Any) -> float | None:
    """Return a share, written as such or in percent."""
    shown = text(cell) if isinstance(cell, str) else ""
    if not shown.endswith("%"):
        return parse_number(cell, ways.decimal, what=m.what)
    told = parse_number(shown[:-1].strip(), ways.decimal, what=m.what)
    return None if told is None else told / 100.0


def _cause(m: Meaning, cell: Any) -> str | None:
    """Return a cause in the study's words; None where nobody knows it."""
    cause = text(cell)
    cause = m.words.get(fold(cause), cause)
    return cause if cause_known(cause) else None


def _engine(m: Meaning, cell: Any) -> str | None:
    raw = "" if is_blank(cell) else text(cell)
    if m.unreadable and raw and (len(raw) > MAX_ID or not normalise_id(raw)):
        raise CellError(m.unreadable, shown=raw[:30], n=len(raw), most=MAX_ID)
    return raw if normalise_id(raw) else None


def _meter(m: Meaning, cell: Any) -> str | None:
    word = "" if is_blank(cell) else text(cell)
    if not word:
        return None
    meter = meter_kind(word)
    if not meter:
        hint = did_you_mean(word, METER_WORDS)
        raise CellError(m.unreadable, "no-meter", shown=word[:30], word=word[:40], hint=hint)
    return meter


def _word(m: Meaning, cell: Any) -> Any:
    """Return what a word of a list means; "none" may be a word of the list."""
    ours = meaning_of(text(cell), m.words)
    if ours is None and not is_blank(cell):
        raise CellError(m.unreadable, what=m.what, **_proposals(m, text(cell)))
    return ours


def _ending(m: Meaning, cell: Any) -> tuple[str, str]:
    """Return an ending, and the cause that its word implies."""
    word = text(cell)
    known: tuple[str, str] | None = meaning_of(word, m.words) if word else None
    if known:
        return known
    if is_blank(cell):
        trouble = "ending-silent" if word else "no-ending"
        raise CellError("ending-missing", trouble, shown=word[:40])
    trouble = "ending-overhaul" if "overhaul" in fold(word) else "ending"
    raise CellError("ending-unknown", trouble, shown=word[:40], hint=did_you_mean(word, ENDINGS))


_OF_WORDS: dict[str, Callable[[Meaning, Any], Any]] = {
    "cause": _cause,
    "engine": _engine,
    "meter": _meter,
    "word": _word,
    "ending": _ending,
}
