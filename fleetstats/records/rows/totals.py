"""Lines of a table that are no engine: totals, subtotals, signatures, blank lines with a sum.

A line is one by its words, or because it has no id and its hours are the sum of the rows above it
(all of them, or those since the last such line). A line with a valid id whose hours are such a sum
is left in, and told where it stands far above all other rows (`stands_out`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.hours import in_hours
from fleetstats.records.rows.row import RowInHand, check_example, check_unanswered
from fleetstats.tables.cells import CellError, is_blank, text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.ids import is_bare_serial
from fleetstats.vocabulary.limits import (
    FEWEST_SUMMED,
    FEWEST_SUMMED_BY_ID,
    SUM_STANDS_OUT,
    SUM_TOLERANCE_H,
)
from fleetstats.vocabulary.totals import reads_as_total

MOST_SUMMED_H = 1e290
"""Hours that are summed at most: no sum of what a file can hold overflows then."""

WINDOW = 4096
"""Rows that are looked through at once; a line found begins the next look."""

FAILING = (*FAILING_ENDINGS, "removed-finding", "finding")
"""Endings of a life, and kinds of an event, that no total is given."""


@dataclass(frozen=True, slots=True)
class TotalLine:
    """A line that may be a total.

    Parameters
    ----------
    why : str
        ``"words"``; ``"sum"``, without an id; ``"id"``, a sum with a valid id; ``"failed"``, words
        and yet a failure.
    n : int
        Rows that it is the sum of; 0 where it is told by its words alone.
    hours : float
        As written.
    """

    why: str
    n: int
    hours: float


@dataclass(slots=True)
class ColumnSums:
    """The sums of a column of hours, down to the row that was read last."""

    all_h: float = 0.0
    n_all: int = 0
    since_h: float = 0.0
    n_since: int = 0
    most_h: float = 0.0

    def walk(
        self, hours: Array, look: Array, judge: Callable[[int, int], str]
    ) -> dict[int, TotalLine]:
        """Return the lines among the next rows that may be totals, by their place.

        Parameters
        ----------
        hours : (n,) float
            As written, NaN where there are none.
        look : (n,) bool
            Rows to be judged whatever their hours.
        judge : callable
            Says why the row at a place is a total, from the number of rows that its hours are the
            sum of (0: of none); blank where it is none.
        """
        h = np.where(np.isfinite(hours) & (hours > 0.0), np.minimum(hours, MOST_SUMMED_H), 0.0)
        out: dict[int, TotalLine] = {}
        at = 0
        while at < len(h):
            part = h[at : at + WINDOW]
            before = np.cumsum(part) - part
            rows_before: Array = np.cumsum(part > 0.0) - (part > 0.0)
            sums = self._rows_summed(part, before, rows_before)
            hits = np.flatnonzero(look[at : at + WINDOW] | (sums > 0))
            end = int(hits[0]) if len(hits) else len(part)
            self._add(part[:end])
            at += end
            if not len(hits):
                continue
            n, x = int(sums[end]), float(h[at])
            why = judge(at, n)
            if not why and n >= FEWEST_SUMMED_BY_ID and x >= SUM_STANDS_OUT * self.most_h:
                why = "id"
            if why:
                out[at] = TotalLine(why, n, x)
                self.since_h, self.n_since = 0.0, 0
            else:
                self._add(h[at : at + 1])
            at += 1
        return out

    def _rows_summed(self, part: Array, before: Array, rows_before: Array) -> Array:
        """Return (n,) how many rows above each is the sum of; 0 for none."""
        out = np.zeros(len(part), dtype=np.int64)
        for base, n in ((self.all_h, self.n_all), (self.since_h, self.n_since)):
            rows = n + rows_before
            same = np.abs(part - (base + before)) <= SUM_TOLERANCE_H
            out = np.where(same & (part > 0.0) & (rows >= FEWEST_SUMMED), rows, out)
        return out

    def _add(self, part: Array) -> None:
        n, total = int((part > 0.0).sum()), float(part.sum())
        self.all_h, self.n_all = self.all_h + total, self.n_all + n
        self.since_h, self.n_since = self.since_h + total, self.n_since + n
        self.most_h = max(self.most_h, float(part.max(initial=0.0)))


def check_total(row: RowInHand, line: TotalLine | None) -> bool:
    """Return whether a row is set aside as a total; what is odd about it goes to the row."""
    if line is None or line.why == "id":
        return False
    shown = row.text("engine")[:40]
    if line.why == "failed":
        row.add("totals-row-failed", "engine", shown=shown)
        return False
    if line.why == "sum":
        row.add("totals-row/sum", "engine", n=line.n, hours=line.hours)
    elif reads_as_total(shown):
        row.add("totals-row", "engine", shown=shown)
    else:
        row.add("totals-row/elsewhere", "engine")
    return True


def is_no_engine(row: RowInHand, line: TotalLine | None) -> bool:
    """Return whether a row tells of no engine; it is then said why and set aside."""
    return check_total(row, line) or check_example(row) or check_unanswered(row)


def summed_hours(cell: Any, decimal: str, unit: str) -> float:
    """Return a cell of hours, whatever an engine can have of them; NaN where it is no number."""
    try:
        told = in_hours(cell, decimal, unit)
    except CellError:
        return math.nan
    return math.nan if told is None else told


def tell_sum(row: RowInHand, line: TotalLine, most_h: float) -> None:
    """Add the finding that a row with a valid id is a sum far above every other."""
    row.add("sum-of-rows", "exit_hours", hours=line.hours, n=line.n, most=most_h)


def stands_out(line: TotalLine, most_h: float) -> bool:
    """Return whether a sum with a valid id is far above every other row, the rows below too."""
    return line.hours >= SUM_STANDS_OUT * most_h


@dataclass(frozen=True, slots=True)
class TotalsJudge:
    """What the cells of a row say of its being a total.

    `end` is our column of the ending (a life) or the kind (an event), and `parse_end` reads it.
    """

    match: ColumnMatch
    end: str
    parse_end: Callable[[Any], Any]

    def looks(self, cell: Any) -> bool:
        """Return whether an engine's cell alone calls for a look at the row."""
        if type(cell) is str and is_bare_serial(cell):
            return False
        return is_blank(cell) or reads_as_total(text(cell))

    def why(self, raw: RawRow, n: int) -> str:
        """Return why a row is a total (`TotalLine.why`); blank where it is none.

        A row that tells of a failure is not set aside for its words.
        """
        at = self.match.index["engine"]
        ending = self.ending(raw)
        by_id = reads_as_total(text(raw.cells[at]))
        if ending in FAILING:
            return "failed" if by_id else ""
        if by_id:
            return "words"
        said = any(
            reads_as_total(text(c)) for i, c in enumerate(raw.cells) if type(c) is str and i != at
        )
        if is_blank(raw.cells[at]):
            if said and not ending:
                return "words"
            return "sum" if n and not ending else ""
        return "words" if said and n > FEWEST_SUMMED and not ending else ""

    def ending(self, raw: RawRow) -> str:
        """Return the row's ending or kind in our words; blank where it has none that is known."""
        at = self.match.index.get(self.end)
        try:
            told = None if at is None else self.parse_end(raw.cells[at])
        except CellError:
            return ""
        return str(told[0] if isinstance(told, tuple) else told or "")
