"""Rows of a large table that stand out of the whole, found by columns and then read again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.far_lives import FarLives, tell_far
from fleetstats.records.life import LifeRow
from fleetstats.records.rows.totals import TotalLine, stands_out
from fleetstats.spells.bulk.bulk_join import SPAN
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.vocabulary.finding import Finding


class Doubts:
    """Rows whose hours are the sum of others, or are far beyond all others.

    Parameters
    ----------
    reader : ChunkReader
        That has read every chunk.
    line : (m,) int
        Line of each row that stands for one engine, with the number of its file above `SPAN`.
    far : FarLives
        Of those rows.
    at : (k,) int
        Places of those that are far, of the reader's file.
    """

    def __init__(self, reader: ChunkReader, line: Array, far: FarLives, at: Array) -> None:
        self.reader = reader
        self.far = far
        self.most_h = reader.sums.most_h
        own = (line[at] % SPAN).tolist()
        self.place: dict[int, int] = dict(zip(own, at.tolist(), strict=True))
        self.sums: dict[int, TotalLine] = {
            n: x for n, x in reader.doubted.items() if x.why == "id" and stands_out(x, self.most_h)
        }

    @property
    def lines(self) -> Array:
        """Return their lines, rising."""
        return np.array(sorted(self.place.keys() | self.sums), dtype=np.int64)

    def sums_of(self, lives: Sequence[LifeRow]) -> Iterator[tuple[Finding, int]]:
        """Yield the findings on those among some lives whose hours are a sum, with their places."""
        column = self.reader.match.shown["exit_hours"]
        for i, life in enumerate(lives):
            line = self.sums.get(life.origin.row or 0)
            if line is not None:
                found = life_finding(
                    "sum-of-rows", life, column=column, value=f"{line.hours:g}", hours=line.hours,
                    n=line.n, most=self.most_h,
                )  # fmt: skip
                yield found, i

    def far_of(self, lives: Sequence[LifeRow]) -> Iterator[tuple[Finding, int]]:
        """Yield the findings on those among some lives that are far beyond all others."""
        for i, life in enumerate(lives):
            k = self.place.get(life.origin.row or 0)
            if k is not None:
                yield tell_far(life, self.far, k, self.reader.settings), i
