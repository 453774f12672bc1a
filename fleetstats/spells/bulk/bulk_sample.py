"""Lives of a long table that are looked at one by one: all of them, or those of some engines.

What asks each life with its dates takes the lives themselves. Of a table with more than it takes,
whole engines are drawn: those of which the digest of the id, stirred with the study's seed, is
lowest. So neither the order of the rows nor how they lie in files has a say in who is drawn, and a
smaller draw is a part of a larger one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.bulk.bulk_join import SPAN, readers_of
from fleetstats.spells.bulk.bulk_lives import key_of
from fleetstats.spells.bulk.bulk_part import PartRead

MOST_LIVES = 20_000
"""Lives that are looked at one by one; a study of as many read whole takes a minute or so."""

Z_95 = 1.96
"""Standard errors within which what is drawn lies from the whole in 95 of 100 draws."""


@value
class BulkSample(Value):
    """Lives of a table read by chunks that are looked at one by one.

    Parameters
    ----------
    rows : tuple of LifeRow
        The lives, in the order of the table.
    verdicts : tuple of Ruling
        What each one's ending counts as, in the same order.
    n : int
        Lives of rows that were drawn.
    of : int
        Lives of all rows that count.
    """

    rows: tuple[LifeRow, ...]
    verdicts: tuple[Ruling, ...]
    n: int
    of: int

    _not_in_dict = ("rows", "verdicts")

    @property
    def is_all(self) -> bool:
        """Return whether every life that counts is looked at."""
        return self.n == self.of


def draw_lines(
    parts: Sequence[PartRead], marks: dict[str, Array], seed: int, most: int | None = None
) -> tuple[Array, float]:
    """Return the lines (k,) of the lives to look at, and which share of single ones they are.

    Parameters
    ----------
    parts : sequence of PartRead
        The files of the table.
    marks : dict
        Their marks, joined.
    seed : int
        The study's.
    most : int, optional
        Lives that may be looked at; `MOST_LIVES` when left out.

    Notes
    -----
    Rows that stand for several engines are all among the lines; `thin_many` draws of their engines.
    """
    most = MOST_LIVES if most is None else most
    enters = marks["enters"]
    many = np.array(
        [i * SPAN + g[0] for i, r in enumerate(readers_of(parts)) for g in r.groups], dtype=np.int64
    )
    total = count_lives(parts, marks)
    if total <= most:
        return np.union1d(marks["line"][enters], many), 1.0
    n = int(enters.sum())
    wanted = int(most * (n / total))
    rows = np.flatnonzero(enters)
    if n > wanted:
        # an engine has one place, so that all of its lives are drawn or none is
        place = stir(marks["key"][enters], seed)
        rows = rows[place < np.partition(place, wanted)[wanted]]
    line = marks["line"][rows]
    return np.union1d(line, many), most / total


def count_lives(parts: Sequence[PartRead], marks: dict[str, Array]) -> int:
    """Return the lives of all rows that count."""
    many = sum(g[2] for r in readers_of(parts) for g in r.groups)
    return int(marks["enters"].sum()) + many


def stir(key: Array, seed: int) -> Array:
    """Return (n,) numbers from those of ids, spread evenly and another way for each seed.

    Vigna's finaliser of the generator of Steele, Lea & Flood (2014), OOPSLA (from memory).
    """
    own = stream(seed, "lives looked at").integers(0, 2**63, dtype=np.uint64)
    x = np.bitwise_xor(key, own, dtype=np.uint64)
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        x ^= x >> np.uint64(shift)
        x *= np.uint64(factor)
    x ^= x >> np.uint64(31)
    return np.asarray(x)


def thin_many(lives: Sequence[LifeRow], share: float, seed: int) -> dict[int, int]:
    """Return how many engines of each life that stands for several are drawn, by its place.

    Equal lives are drawn of alike, in whatever order they stand.
    """
    many = [i for i, x in enumerate(lives) if x.count > 1]
    told = [(lives[i].exit_h, lives[i].entry_h, lives[i].ending, lives[i].cause, lives[i].source,
             lives[i].build, lives[i].count, i) for i in many]  # fmt: skip
    u = stream(seed, "engines looked at").random(len(many))
    order = [x[-1] for x in sorted(told)]
    return {i: math.floor(lives[i].count * share + v) for i, v in zip(order, u, strict=True)}


def sample_of(
    lives: Sequence[tuple[LifeRow, Ruling]], share: float, seed: int, of: int
) -> BulkSample:
    """Return the lives of the lines of `draw_lines`, fewer engines of rows that stand for several.

    Parameters
    ----------
    lives : sequence of (LifeRow, Ruling)
        Lives of those lines that count, and what their endings count as.
    share : float
        Of single lives that are drawn.
    seed : int
        The study's.
    of : int
        Lives of all rows that count.
    """
    if share == 1.0:
        rows, verdicts = tuple(x for x, _ in lives), tuple(v for _, v in lives)
        return BulkSample(rows=rows, verdicts=verdicts, n=of, of=of)
    kept = thin_many([x for x, _ in lives], share, seed)
    drawn = [
        (x if i not in kept else replace(x, count=kept[i]), v)
        for i, (x, v) in enumerate(lives)
        if kept.get(i, 1) > 0
    ]
    # the parts of one row, cut where it was modified, are one life
    n = sum({(str(x.origin), x.count): x.count for x, _ in drawn}.values())
    return BulkSample(
        rows=tuple(x for x, _ in drawn), verdicts=tuple(v for _, v in drawn), n=n, of=of
    )


def draw_fewer(sample: BulkSample, most: int, seed: int) -> BulkSample:
    """Return the sample, or the part of it that a draw of at most so many lives would have been."""
    if sample.n <= most:
        return sample
    share = most / sample.n
    single = [i for i, x in enumerate(sample.rows) if x.count == 1]
    place = stir(key_of([sample.rows[i].engine_id for i in single]), seed)
    wanted = int(len(single) * share)
    mine = place < np.partition(place, wanted)[wanted] if len(single) > wanted else place >= 0
    keep = {i for i, m in zip(single, mine.tolist(), strict=True) if m}
    lives = [
        (x, v)
        for i, (x, v) in enumerate(zip(sample.rows, sample.verdicts, strict=True))
        if x.count > 1 or i in keep
    ]
    return sample_of(lives, share, seed, sample.of)
