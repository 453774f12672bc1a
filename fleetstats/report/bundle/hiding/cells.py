"""One cell of the records to the cell that leaves: by its meaning, its column and its row."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from fleetstats.records.condition.checks import METHODS, NOT_MENDED
from fleetstats.records.hours import MAX_HOURS, PER_HOUR, doubt_in_hours, in_hours
from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.rows.meaning import MAX_ID, Meaning, Ways
from fleetstats.records.told_values import read_told, write_told
from fleetstats.report.bundle.hiding.names import Names
from fleetstats.report.bundle.hiding.steps import (
    MONTHS,
    Steps,
    few_digits,
    nearest,
    number_text,
    same_hours,
)
from fleetstats.report.bundle.hiding.words import UNREAD, Words, hint_words, plain_note
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, is_blank, parse_date, parse_flag, parse_number, text
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt, read_day_doubt
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.categories import NOT_GIVEN, known_levels, level_of
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fields.parts import names_parts
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.meters import meter_kind
from fleetstats.vocabulary.totals import reads_as_total

SINCE_START = ("since_overhaul_hours", "oil_hours")
"""Columns of hours that are counted from an event of the engine and not by its clock."""

NO_DATES = {"date-impossible": "2024-02-31", "date-ambiguous": "01/01/24"}
"""Stand where a date was no day of the calendar, or could be two."""

Map = Mapping[float, float]


@dataclass(slots=True)
class Hider:
    """What replaces and coarsens the cells of one study.

    Parameters
    ----------
    settings : Settings
        Of the original.
    steps : Steps
        To which hours and dates are coarsened.
    names, words
        What stands for names and words.
    maps : dict
        Of each engine's id and kind of meter: the coarsened hours of each of its hours.
    """

    settings: Settings
    steps: Steps
    names: Names
    words: Words
    maps: dict[tuple[str, str], Map] = field(default_factory=dict)

    def coarsened(self, engine: str, meter: str) -> Callable[[float], float]:
        """Return the map of an engine's hours on a meter; other hours go to the nearest step."""
        known = self.maps.get((normalise_id(engine), meter), {})

        def at(hours: float) -> float:
            told = known.get(same_hours(hours))
            return nearest(hours, self.steps.hours_h) if told is None else told

        return at


@dataclass(slots=True)
class RowHider:
    """The cells of one row.

    Parameters
    ----------
    hider : Hider
        Of the study.
    file : RecordFile
        The row's file.
    ways : Ways
        How it writes.
    row : mapping
        The row's cells by our names.
    log : bool
        Whether its rows are events.
    """

    hider: Hider
    file: RecordFile
    ways: Ways
    row: Mapping[str, Any]
    log: bool = False

    @property
    def engine(self) -> str:
        """Return the engine as written."""
        return "" if is_blank(self.row.get("engine")) else text(self.row["engine"])

    @property
    def meter(self) -> str:
        """Return the kind of meter that the row's hours were read from."""
        told = "" if is_blank(self.row.get("meter")) else text(self.row["meter"])
        return meter_kind(told) or self.file.meter or self.hider.settings.hours.meter

    def hours(self, name: str) -> float | None:
        """Return a cell of the row in hours; None where it has none."""
        try:
            return in_hours(self.row.get(name), self.ways.decimal, self.ways.unit)
        except CellError:
            return None

    def cell(self, m: Meaning) -> str:
        """Return what leaves in place of a cell."""
        cell = self.row.get(m.name)
        if is_blank(cell) and m.kind not in ("cause", "ending", "word"):
            return ""
        try:
            return getattr(self, f"_{m.kind}", self._text)(m, cell)
        except CellError as error:
            return NO_DATES.get(error.code) or self._unread(cell)

    def _unread(self, cell: Any) -> str:
        said = hint_words(text(cell), self._map)
        return f"{UNREAD} {said}" if said else UNREAD

    @property
    def _map(self) -> Callable[[float], float]:
        return self.hider.coarsened(self.engine, self.meter)

    def _number_text(self, x: float) -> str:
        return number_text(x).replace(".", self.ways.decimal if self.ways.decimal == "," else ".")

    def _hours(self, m: Meaning, cell: Any) -> str:
        try:
            hours = in_hours(cell, self.ways.decimal, self.ways.unit)
        except CellError:
            doubt = doubt_in_hours(cell, self.ways.decimal, self.ways.unit)
            if doubt is None:
                raise
            return self._doubt(doubt)
        if hours is None:
            return UNREAD
        if not math.isfinite(hours):
            return str(hours)
        at = self._map
        if m.name in SINCE_START and 0.0 <= hours <= MAX_HOURS:
            end = next((h for n in END_OF for h in [self.hours(n)] if h is not None), None)
            begun = None if end is None else end - hours
            if end is None or begun is None or begun < 0:
                now = nearest(hours, self.hider.steps.hours_h)
            else:
                now = at(end) - at(begun)
        else:
            now = at(hours)
        return self._number_text(now * PER_HOUR[self.ways.unit])

    def _number(self, m: Meaning, cell: Any) -> str:
        x = parse_number(cell, self.ways.decimal)
        if x is None or not math.isfinite(x):
            return UNREAD
        return self._number_text(x if m.whole else few_digits(x))

    def _share(self, _m: Meaning, cell: Any) -> str:
        shown = text(cell)
        percent = shown.endswith("%")
        x = parse_number(shown[:-1].strip() if percent else cell, self.ways.decimal)
        return UNREAD if x is None else self._number_text(few_digits(x)) + (" %" * percent)

    def _date(self, m: Meaning, cell: Any) -> str:
        try:
            day = parse_date(cell, self.ways.day_first)
        except CellError:
            told = read_day_doubt(cell, self.ways.day_first, self.ways.until) if m.doubt else None
            if told is None:
                raise
            return self._doubtful_day(m.name, told)
        return "" if day is None else self.day(m.name, day).isoformat()

    def day(self, name: str, day: dt.date) -> dt.date:
        """Return a date that leaves: where a life begins the first day of a step, else the last.

        So no coarsened date makes a life faster than it was.
        """
        steps = self.hider.steps
        if name in ("in_service_date", "observed_from_date"):
            return steps.first_day(day)
        return steps.last_day(day, self.hider.settings.study.analysis_date)

    def _doubtful_day(self, name: str, told: DayDoubt) -> str:
        """Return words for a span of days: those of its own kind whose span holds it, coarsened."""
        steps, until = self.hider.steps, self.ways.until
        if told.low == told.high:
            day = self.day(name, told.low)
            short = day.strftime("%d.%m.%y")
            read = read_day_doubt(short, True, until)
            return short if read is not None and read.low == day else day.isoformat()
        least = MONTHS[steps.dates]
        wider = (day_words(replace(told, how=how)) for how in ("quarter", "year", "about"))
        spans = [
            (words, span)
            for words, months in itertools.chain(day_words(told), *wider)
            if months >= least  # what names no less than a step tells no more than a coarsened day
            and (span := read_day_doubt(words, self.ways.day_first, until)) is not None
        ]
        same = (words for words, span in spans if span == told)
        holds = (w for w, span in spans if span.low <= told.low and told.high <= span.high)
        return next(itertools.chain(same, holds), UNREAD)

    def _flag(self, _m: Meaning, cell: Any) -> str:
        told = parse_flag(cell)
        return "" if told is None else "yes" if told else "no"

    def _engine(self, _m: Meaning, cell: Any) -> str:
        raw = text(cell)
        if normalise_id(raw) == EXAMPLE_ENGINE:
            return EXAMPLE_ENGINE
        if reads_as_total(raw):
            return "Total"
        if len(raw) > MAX_ID:
            return "X" * (MAX_ID + 1)
        return self.hider.names.engine(raw) or "#"

    def _meter(self, _m: Meaning, cell: Any) -> str:
        return meter_kind(text(cell)) or UNREAD

    def _ending(self, _m: Meaning, cell: Any) -> str:
        if is_blank(cell):
            return "n/a" if text(cell) else ""
        words = self.hider.words
        return words.of_list(text(cell), ENDINGS_BY_WORD, self.file.endings, self._map)

    def _word(self, m: Meaning, cell: Any) -> str:
        if is_blank(cell) and not meaning_of(text(cell), m.words):
            return ""
        if self.log:
            words = self.hider.words
            return words.of_list(text(cell), EVENTS_BY_WORD, self.file.kinds, self._map)
        told = meaning_of(text(cell), m.words)
        return self._unread(cell) if told is None else str(told)

    def _cause(self, _m: Meaning, cell: Any) -> str:
        return self.hider.words.cause(text(cell), self.file.causes)

    def _literal(self, m: Meaning, cell: Any) -> str:
        return self._text(m, cell)

    def _text(self, m: Meaning, cell: Any) -> str:
        """Return what stands for a text, by its column."""
        told, h = text(cell), self.hider
        if m.name in h.settings.categories.columns:
            return self._levels(m.name, told)
        match m.name:
            case "source":
                return h.names.source(told)
            case "build" | "modified_to":
                return hide_build(told, h.names)
            case "component":
                own = fold(told) == fold(h.settings.hours.component)
                return told if own else h.names.other(told, "part")
            case "serial" | "specimen":
                return h.names.other(normalise_id(told), "part")
            case "cylinder" | "position":
                return told if len(told) <= 2 else h.names.other(told, "place")
            case "id" | "retest_of":
                return h.names.other(f"{normalise_id(self.engine)} {told}", "reading")
            case "mode":
                return h.words.cause(told, self.file.causes)
            case "action":
                resets = {fold(a) for a in h.settings.leakdown.reset_actions}
                return fold(told) if fold(told) in {*NOT_MENDED, *resets} else "mended"
            case "method":
                return fold(told) if fold(told) in METHODS else h.names.other(told, "other")
            case "leak_path" if names_parts(told):
                return fold(told)
            case "mode_proven_by":
                return "told by the maker"
            case "note":
                return plain_note(told, self._map)
            case _:
                return h.names.other(told, "other")

    def _levels(self, column: str, told: str) -> str:
        """Return levels of a column of words; where any word may stand, pseudonyms."""
        words = self.hider.settings.categories.words
        closed, out = known_levels(column, words), []
        for hours, word in read_told(told, 0.0, self.ways.decimal, self.ways.unit):
            level = level_of(column, word, words)
            if level is None:
                shown = UNREAD
            elif closed or level == NOT_GIVEN:
                shown = level
            else:
                shown = self.hider.names.other(level, "level")
            out.append((self._map(hours) * PER_HOUR[self.ways.unit] if hours else 0.0, shown))
        return write_told(tuple(out))

    def _doubt(self, doubt: FigureDoubt) -> str:
        """Return hours known between two as words for such, both ends coarsened."""
        ends = (doubt.low, doubt.high)
        low, high = (number_text(self._map(x)) if math.isfinite(x) else "" for x in ends)
        if not high:
            return f">{low} h"
        about = f"about {number_text(0.5 * (float(low) + float(high)))}"
        read = doubt_in_hours(about, self.ways.decimal, self.ways.unit)
        if doubt.how == "about" and read is not None and (read.low, read.high) == (
            float(low), float(high)):  # fmt: skip
            return about
        return f"{low}-{high} h" if low != high else f"{low} h"

    def hinting(self, cell: Any) -> str:
        """Return what leaves of a cell that the study does not use: its word of trouble."""
        return plain_note(text(cell), self._map)

    def filled(self, cell: Any) -> str:
        """Return what leaves of a cell under a head that names failures, where it tells of one."""
        try:
            hours = in_hours(cell, self.ways.decimal, self.ways.unit)
        except CellError:
            return hint_words(text(cell), self._map) or "told"
        if hours is None or not math.isfinite(hours):
            return "told"
        return self._number_text(self._map(hours) * PER_HOUR[self.ways.unit])


def day_words(told: DayDoubt) -> Iterator[tuple[str, int]]:
    """Yield words that name spans of days around one, of its kind, with the months that they name.

    The narrowest come first.
    """
    day = told.middle
    month, quarter = f"{day:%Y-%m}", f"Q{(day.month + 2) // 3} {day.year}"
    if told.how == "month":
        yield month, 1
    elif told.how == "quarter":
        yield quarter, 3
    elif told.how == "year":
        yield str(day.year), 12
        yield from ((f"{y}/{y + 1}", 24) for y in (day.year, day.year - 1))
    else:
        yield from ((f"about {w}", n) for w, n in ((month, 1), (quarter, 3), (str(day.year), 12)))


END_OF = ("exit_hours", "since_new_hours", "hours")
"""Columns from which hours since an event are counted back, the first that a row has."""


def hide_build(build: str, names: Names) -> str:
    """Return a build as it leaves: as written, unless a name stands in it."""
    return names.other(build, "build") if names.tells(build) else " ".join(build.split())
