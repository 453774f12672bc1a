"""The engines of a long table that run today: how many, how old, and the lives of the oldest.

Hours and ends are in the marks of all rows; ids, dates and words are read again, of as many engines
as outlook and forecast take, else of the oldest alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.spells.bulk.bulk_engines import read_lines
from fleetstats.spells.bulk.bulk_join import SPAN, readers_of
from fleetstats.spells.bulk.bulk_lives import GONE, RUNS
from fleetstats.spells.bulk.bulk_part import PartRead
from fleetstats.spells.bulk.key_slices import is_among, last_rows
from fleetstats.spells.running import MOST_ENGINES
from fleetstats.spells.splits import split_modified

OLDEST = 500
"""Engines with most hours that are looked at one by one where more run than `MOST_ENGINES`."""


@value
class BulkRunning(Value):
    """Engines that run, of a table read by chunks.

    Parameters
    ----------
    n : int
        How many run.
    age_h, count : (k,) float
        Their different hours, rising, and how many engines have each.
    rows : tuple of LifeRow
        Lives of all of them, or of those with most hours, with what ended since.
    n_read : int
        Engines whose lives those are.
    """

    n: int
    age_h: Floats
    count: Floats
    rows: tuple[LifeRow, ...]
    n_read: int

    _not_in_dict = ("age_h", "count", "rows")

    @property
    def all_read(self) -> bool:
        """Return whether the lives of every engine that runs are at hand."""
        return self.n_read == self.n


def find_bulk_running(
    parts: Sequence[PartRead], marks: dict[str, Array], stage: Callable[[str], None],
    most: int | None = None,
) -> BulkRunning:  # fmt: skip
    """Return the engines that run, by the rule of `find_running`.

    Parameters
    ----------
    parts : sequence of PartRead
        The files of the table.
    marks : dict
        Their marks, joined.
    stage : callable
        Told how many rows are read again.
    most : int, optional
        Engines of which every life is read again; `MOST_ENGINES` when left out.
    """
    most = MOST_ENGINES if most is None else most
    keep = marks["enters"] & np.isin(marks["state"], (RUNS, GONE))
    key, stop, age = (marks[n][keep] for n in ("key", "stop_h", "life_h"))
    runs, line = marks["state"][keep] == RUNS, marks["line"][keep]
    end = last_rows(key, stop, runs)
    end = end[runs[end]]
    groups = [(i * SPAN + n, h, c) for i, r in enumerate(readers_of(parts)) for n, h, c in r.groups]
    ages = np.concatenate([age[end], [h for _, h, _ in groups]])
    counts = np.concatenate([np.ones(len(end)), [c for _, _, c in groups]])
    n = int(counts.sum())
    if n > most:
        oldest = np.argsort(-ages, kind="stable")[:OLDEST]
        mine = end[oldest[oldest < len(end)]]
        groups = [groups[i - len(end)] for i in oldest[oldest >= len(end)].tolist()]
        same = is_among(key, key[mine])
        n_read = len(mine) + sum(c for _, _, c in groups)
    else:
        # what an engine ended tells the fleet's use too
        same, n_read = is_among(key, key[runs]), n
    lines = np.union1d(line[same], np.array([g[0] for g in groups], dtype=np.int64))
    stage(f"reading {len(lines):,} rows of engines that run again")
    different, place = np.unique(ages, return_inverse=True)
    return BulkRunning(
        n=n,
        age_h=different,
        count=np.bincount(place.ravel(), weights=counts, minlength=len(different)),
        rows=tuple(_lives(parts, lines)),
        n_read=n_read,
    )


def _lives(parts: Sequence[PartRead], lines: Array) -> list[LifeRow]:
    """Return the lives of some lines that enter the spells, in the order of the table."""
    readers = readers_of(parts)
    return [
        part
        for i, life, used in read_lines(parts, lines)
        if used
        for part in split_modified(life)
        if readers[i].verdict_of(part).counts_as != "excluded"
    ]
