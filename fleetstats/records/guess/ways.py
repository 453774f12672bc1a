"""How a sheet writes: decimal mark, order of dates, meter and unit of its hours, its last date."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import Any, Final

from fleetstats.records.guess.columns import Columns
from fleetstats.records.guess.guess import LIKELY, OPEN, SURE, Guess
from fleetstats.records.guess.shapes import FIELDS_OF, kind_of_field
from fleetstats.records.guess.titles import TitleDay
from fleetstats.study.record_settings import METERS
from fleetstats.tables.cells import CellError, find_day_first, find_decimal, parse_date, text
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.tongues.bare import bare, spellings
from fleetstats.vocabulary.tongues.heads import METERS_IN_HEADS, MINUTES

_SLASHED = re.compile(r"\d{1,2}[/-]\d{1,2}[/-]\d{4}")
_DOTTED = re.compile(r"\d{1,2}\.\s?\d{1,2}\.\s?\d{4}")
_METERS = {form: m for m, words in METERS_IN_HEADS.items() for w in words for form in spellings(w)}

FAR_DAYS: Final = 400
"""A last date that stands once, so far after all others, is rather a slip of the pen, in days."""

Lines = Sequence[RawRow]


def cells_at(rows: Lines, at: Iterable[int]) -> list[Any]:
    """Return the different cells of some columns; how often each stands there tells nothing."""
    found: dict[Any, Any] = {}
    for i in at:
        for r in rows:
            c = r.cells[i] if i < len(r.cells) else None
            if c is not None:
                found.setdefault(c if type(c) is str else (type(c), c), c)
    return list(found.values())


def of_kind(found: Columns, kind: str) -> list[int]:
    """Return the places of the columns that hold one kind of cells."""
    return [
        found.index[f.name]
        for f in FIELDS_OF[found.shape]
        if f.name in found.index and kind_of_field(f) == kind
    ]


def guess_ways(
    found: Columns, rows: Lines, delimiter: str
) -> tuple[tuple[Guess, ...], bool | None]:
    """Return how a sheet writes numbers and dates, and whether days stand before months."""
    out: list[Guess] = []
    numbers = cells_at(rows, of_kind(found, "number"))
    decimal = find_decimal(numbers, delimiter)
    if decimal == "ambiguous":
        example = next(c for c in numbers if isinstance(c, str) and ("," in c or "." in c))
        out.append(
            Guess(what="decimal", value="", reason=f"'{text(example)[:20]}' may be thousands or "
                  "decimals, and no other number tells", sure=OPEN, alternatives=(".", ","),
                  effect="no row is read without it")
        )  # fmt: skip
    elif decimal == ",":
        out.append(Guess(what="decimal", value=",", reason="numbers such as 12,5 stand there",
                         sure=SURE, known=True))  # fmt: skip
    dates = [text(c) for c in cells_at(rows, of_kind(found, "date")) if isinstance(c, str)]
    slashed = [d for d in dates if _SLASHED.fullmatch(d)]
    first = find_day_first(slashed)
    if slashed and first is not None:
        order = "day-first" if first else "month-first"
        out.append(Guess(what="date_order", value=order, sure=SURE, known=True,
                         reason="a number above 12 in one of the dates tells"))  # fmt: skip
    elif slashed and (decimal == "," or any(_DOTTED.fullmatch(d) for d in dates)):
        first = True
        out.append(Guess(what="date_order", value="day-first", sure=LIKELY, n_rows=len(slashed),
                         alternatives=("month-first",), samples=tuple(slashed[:3]),
                         reason="no date tells; numbers or other dates do"))  # fmt: skip
    elif slashed:
        out.append(Guess(what="date_order", value="", sure=OPEN, n_rows=len(slashed),
                         alternatives=("day-first", "month-first"), samples=tuple(slashed[:3]),
                         reason=f"'{slashed[0]}' and its like may be read in two ways",
                         effect="dates that are unclear are left out until then"))  # fmt: skip
    return tuple(out), first


def guess_source(file: str, sheet: str, several: bool) -> Guess:
    """Return who sent a sheet, for rows that do not say: the name of its file or sheet."""
    stem = text(PurePath(file).stem) or "records"
    named = sheet if several and sheet else stem
    why = "the name of the sheet" if named == sheet else "the name of the file"
    return Guess(what="source", value=named, reason=why, sure=LIKELY)


def meter_in_heads(found: Columns) -> tuple[str, str]:
    """Return the meter that the head of the hours names, and that head; empty where none does."""
    fit = found.fits.get("exit_hours") or found.fits.get("hours")
    if fit is None:
        return "", ""
    head = f"{fit.column.above} {fit.column.head}"
    for word in bare(head).split():
        if word in _METERS:
            return _METERS[word], fit.column.head
    return "", ""


def counts_minutes(found: Columns) -> str:
    """Return the head of the hours where it says that they are minutes; else an empty text."""
    fit = found.fits.get("exit_hours") or found.fits.get("hours")
    if fit is None:
        return ""
    words = set(re.findall(r"[^\W\d_]+", fold(fit.column.head)))
    return fit.column.head if words & set(MINUTES) else ""


def dates_of(found: Columns, rows: Lines, day_first: bool | None) -> Counter[dt.date]:
    """Return every date up to which a sheet's columns tell, with how often it stands there.

    Days on which engines began say nothing of how long their records go on.
    """
    begun = {found.index.get(n) for n in ("in_service_date", "observed_from_date")}
    at = [i for i in of_kind(found, "date") if i not in begun]
    cells = Counter(r.cells[i] for i in at for r in rows if i < len(r.cells))
    out: Counter[dt.date] = Counter()
    for cell, n in cells.items():
        try:
            day = parse_date(cell, day_first)
        except CellError:
            continue
        if day is not None:
            out[day] += n
    return out


def guess_analysis_date(
    dates: Mapping[dt.date, int], today: dt.date, titles: Sequence[TitleDay] = ()
) -> Guess:
    """Return the day to which the records are complete: a title's, or the last in the records.

    Of several titles the last day counts. One before the last day of the records is not believed:
    the sheet was written on since.
    """
    days = sorted(d for d in dates if d <= today)
    told = max((t for t in titles if t.day <= today), key=lambda t: t.day, default=None)
    if told is not None and (not days or days[-1] <= told.day):
        return Guess(what="study.analysis_date", value=told.day.isoformat(), sure=LIKELY,
                     reason=f"the title '{told.shown}' says so ({told.place}), and no date of the "
                     "records is later")  # fmt: skip
    if not days:
        return Guess(what="study.analysis_date", value="", sure=OPEN,
                     reason="the records hold no date that can be read, or only days on which "
                     "engines began",
                     effect="no study is made without it")  # fmt: skip
    last = days[-1]
    if len(days) > 1 and dates[last] == 1 and (last - days[-2]).days > FAR_DAYS:
        return Guess(what="study.analysis_date", value="", sure=OPEN,
                     alternatives=(last.isoformat(), days[-2].isoformat()),
                     reason=f"{last} is the last date of the records, long after all others",
                     effect="no study is made without it")  # fmt: skip
    return Guess(what="study.analysis_date", value=last.isoformat(), sure=LIKELY,
                 reason="the last date in the records; put the day to which they are complete, if "
                 "that is later")  # fmt: skip


def guess_meter(meters: Sequence[tuple[str, str, int]]) -> tuple[Guess, ...]:
    """Return the study's meter from (meter, head, rows) of each sheet of hours.

    The meter of most rows is the standard clock; hours of another need its factor, which is asked.
    """
    rows: Counter[str] = Counter()
    for meter, _, n in meters:
        if meter:
            rows[meter] += n
    if not rows:
        return (
            Guess(what="hours.meter", value="flight", sure=LIKELY, known=True,
                  alternatives=METERS[1:], reason="no head names the meter"),
        )  # fmt: skip
    standard = max(sorted(rows), key=lambda m: rows[m])
    head = next(h for m, h, _ in meters if m == standard)
    out = [Guess(what="hours.meter", value=standard, sure=LIKELY, known=standard == "flight",
                 reason=f"the head '{head}' names it", n_rows=rows[standard])]  # fmt: skip
    others = tuple(sorted(m for m in rows if m != standard))
    if others:
        asked = ", ".join(f"{m} = {{ factor = 1.0, low = 0.9, high = 1.1 }}" for m in others)
        out.append(
            Guess(what="hours.factors", value="", sure=OPEN, alternatives=(f"{{ {asked} }}",),
                  reason=f"other hours are by {', '.join(others)}: by what factor do they become "
                  f"{standard} hours, and between which limits", effect="no study is made without "
                  "it")
        )  # fmt: skip
    return tuple(out)
