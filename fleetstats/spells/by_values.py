"""Lives with the levels that they were run under, cut where a level changed.

A life that changed its use is not put whole under either: hours and failure would fall under a use
that the engine had not, or no longer had. It is cut at the hours of the change; the rest enters
late there, which changes no other estimate (delayed entry). From the change on it has the hazard
of its age under the new level, as an engine that always had that level and came so far. Only the
chapter on covariates cuts so.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Floats, Ints, Value, value
from fleetstats.records.clocks.usage import DAYS_PER_YEAR, calendar_year
from fleetstats.records.life import LifeRow
from fleetstats.records.told_values import value_at
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.vocabulary.fields.categories import NOT_GIVEN, Words, level_of


@value
class ByValues(Value):
    """Spells with one level in each column of words.

    Parameters
    ----------
    spells : Spells
        m pieces of the n lives.
    labels : dict of str to (m,) str
        Level by column; `NOT_GIVEN` where nobody told it, or in a word that nobody knows.
    row : (m,) int
        Number of the life of each piece.
    entry_year : (m,) float
        When the piece began, in years AD with their fraction; NaN where no date tells it.
    n_changed : int
        Lives cut.
    """

    spells: Spells
    labels: dict[str, Array]
    row: Ints
    entry_year: Floats
    n_changed: int


def split_by_values(
    rows: Sequence[LifeRow], spells: Spells, columns: tuple[str, ...], words: Words
) -> ByValues:
    """Cut lives where a level changed, and tell the levels of each piece.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        The n spells.
    columns : tuple of str
        Columns of words.
    words : mapping
        The study's maps, as `level_of` takes them.

    Raises
    ------
    SpellError
        If the two have different lengths.

    Notes
    -----
    A failure only known to lie in an interval keeps the level of the interval's beginning: within
    it nobody knows which came first.
    """
    if len(rows) != len(spells):
        raise SpellError(
            f"{len(rows)} rows stand beside {len(spells)} spells.", "Give the row of each spell."
        )
    at, entry, end, last = [], [], [], []
    levels: dict[str, list[str]] = {c: [] for c in columns}
    changed = 0
    ends = np.minimum(spells.exit_lower, spells.exit_upper)
    for i, row in enumerate(rows):
        start = float(spells.entry[i])
        cuts = _cuts(row, columns, words, start, float(ends[i]))
        changed += bool(cuts)
        edges = [start, *cuts, float(spells.exit_upper[i])]
        for j in range(len(edges) - 1):
            at.append(i)
            entry.append(edges[j])
            end.append(edges[j + 1])
            last.append(j == len(cuts))
            for c in columns:
                levels[c].append(_level(row, c, edges[j], words))
    where = np.array(at, dtype=np.int64)
    pieces = _pieces(spells, where, np.array(entry), np.array(end), np.array(last, dtype=bool))
    return ByValues(
        spells=pieces,
        labels={c: np.array(x, dtype=np.str_) for c, x in levels.items()},
        row=where,
        entry_year=np.array(
            [year_at(rows[i], h) for i, h in zip(at, entry, strict=True)], dtype=np.float64
        ),
        n_changed=changed,
    )


def _level(row: LifeRow, column: str, hours: float, words: Words) -> str:
    return level_of(column, value_at(row.categories, column, hours), words) or NOT_GIVEN


def _cuts(
    row: LifeRow, columns: tuple[str, ...], words: Words, start: float, end: float
) -> list[float]:
    """Return the hours between `start` and `end` at which a level becomes another."""
    told = {h for c in columns for h, _ in row.categories.get(c, ()) if start < h < end}
    cuts = []
    before = [_level(row, c, start, words) for c in columns]
    for h in sorted(told):
        now = [_level(row, c, h, words) for c in columns]
        if now != before:
            cuts.append(h)
        before = now
    return cuts


def _pieces(spells: Spells, at: Array, entry: Array, end: Array, last: Array) -> Spells:
    whole = spells.select(at)
    beyond = whole.exit_upper - end
    return whole.replace(
        entry=entry,
        exit_lower=np.where(last, whole.exit_lower, end),
        exit_upper=end,
        event=np.where(last, whole.event, Event.CENSORED),
        cause=np.where(last, whole.cause, ""),
        assumed_h=np.clip(whole.assumed_h - beyond, 0.0, end - entry),
    )


def year_at(row: LifeRow, hours: float) -> float:
    """Return the year, with its fraction, at which a life reached `hours`; NaN if no date tells.

    Between two dated hours an engine is taken to run evenly.
    """
    known: list[tuple[float, dt.date]] = []
    if row.in_service is not None:
        known.append((0.0, row.in_service))
    if row.observed_from is not None:
        known.append((row.entry_h, row.observed_from))
    if row.last_date is not None:
        known.append((row.exit_h, row.last_date))
    for h, day in known:
        if abs(h - hours) < SAME_H:
            return calendar_year(day)
    known = sorted(known)
    for (a, first), (b, second) in itertools.pairwise(known):
        if a < hours < b:
            share = (hours - a) / (b - a)
            return calendar_year(first) + share * (second - first).days / DAYS_PER_YEAR
    return float("nan")


SAME_H = 1e-9
