"""The engines of a long table that run today: how many, how old, and the lives of the oldest.

Hours and ends are in the marks of all rows; ids, dates and words are read again, of as many engines
as outlook and forecast take, else of the oldest alone, and of the lives that are looked at one by
one (`bulk_sample`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fleetstats.core.memory import give_back
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.bulk.bulk_engines import read_lines
from fleetstats.spells.bulk.bulk_join import SPAN, readers_of
from fleetstats.spells.bulk.bulk_lives import GONE, RUNS, key_of
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
    last_h, last_count : (j,) float
        Different hours, rising, at the end of lives that are told to run, and how many lives have
        each; an engine may have several, of which the last tells its age.
    rows : tuple of LifeRow
        Lives of all of them, or of those with most hours, with what ended since.
    n_read : int
        Engines whose lives those are.
    """

    n: int
    age_h: Floats
    count: Floats
    last_h: Floats
    last_count: Floats
    rows: tuple[LifeRow, ...]
    n_read: int

    _not_in_dict = ("age_h", "count", "last_h", "last_count", "rows")

    @property
    def all_read(self) -> bool:
        """Return whether the lives of every engine that runs are at hand."""
        return self.n_read == self.n


def find_bulk_running(
    parts: Sequence[PartRead], marks: dict[str, Array], most: int | None = None,
    *, several: bool = True,
) -> tuple[BulkRunning, Array]:  # fmt: skip
    """Return the engines that run, by the rule of `find_running`, and the lines of their lives.

    The lives themselves are to be read again (`read_lives`).

    Parameters
    ----------
    parts : sequence of PartRead
        The files of the table.
    marks : dict
        Their marks, joined.
    most : int, optional
        Engines of which every life is read again; `MOST_ENGINES` when left out.
    several : bool
        Whether any engine may stand in more rows than one.
    """
    most = MOST_ENGINES if most is None else most
    # a table may be very long: no column of it is copied, and rows are named by their places
    keep = marks["enters"] & np.isin(marks["state"], (RUNS, GONE))
    runs = keep & (marks["state"] == RUNS)
    end = np.flatnonzero(runs)
    if several:
        end = last_rows(marks["key"], marks["stop_h"], runs, keep)
        end = end[runs[end]]
    groups = [(i * SPAN + n, h, c) for i, r in enumerate(readers_of(parts))
              for n, h, c, run in r.groups if run]  # fmt: skip
    different, count = _counted(marks["life_h"][end], groups)
    last_h, last_count = _counted(marks["life_h"][runs], groups)
    n = len(end) + int(sum(c for _, _, c in groups))
    n_read, mine = n, runs  # what an engine ended tells the fleet's use too
    if n > most:
        ages = np.append(marks["life_h"][end], [h for _, h, _ in groups])
        oldest = _oldest(ages, marks["key"][end])
        mine = end[oldest[oldest < len(end)]]
        groups = [groups[i - len(end)] for i in oldest[oldest >= len(end)].tolist()]
        n_read = len(mine) + sum(c for _, _, c in groups)
    same = keep & is_among(marks["key"], marks["key"][mine])
    lines = np.union1d(marks["line"][same], np.array([g[0] for g in groups], dtype=np.int64))
    give_back()
    running = BulkRunning(
        n=n, age_h=different, count=count, last_h=last_h, last_count=last_count, rows=(),
        n_read=n_read,
    )  # fmt: skip
    return running, lines


def _oldest(age_h: Array, key: Array) -> Array:
    """Return the places of the greatest ages, falling, of engines and then of groups of them.

    Of equal ones the engines come first, by their numbers.
    """
    n = len(age_h)
    among = np.arange(n)
    if n > OLDEST:
        among = np.flatnonzero(age_h >= np.partition(age_h, n - OLDEST)[n - OLDEST])
    single = among[among < len(key)]
    among = np.append(single[np.argsort(key[single])], among[len(single) :])
    return np.asarray(among[np.argsort(-age_h[among], kind="stable")][:OLDEST])


def _counted(hours: Array, groups: Sequence[tuple[int, float, float]]) -> tuple[Array, Array]:
    """Return different hours, rising, and how many each stands for, of one each and of groups."""
    single, n = np.unique(hours, return_counts=True)
    told = np.append(single, [h for _, h, _ in groups])
    weights = np.append(n.astype(np.float64), [c for _, _, c in groups])
    different, place = np.unique(told, return_inverse=True)
    return different, np.bincount(place.ravel(), weights=weights, minlength=len(different))


def lines_of_engines(
    parts: Sequence[PartRead], marks: dict[str, Array], names: set[str]
) -> Array:  # fmt: skip
    """Return the lines (k,) of the lives of some engines, named in their form for comparison."""
    if not names:
        return marks["line"][:0]
    same = marks["enters"] & is_among(marks["key"], np.sort(key_of(names)))
    many = [i * SPAN + g[0] for i, r in enumerate(readers_of(parts)) for g in r.groups]
    return np.union1d(marks["line"][same], np.array(many, dtype=np.int64))


def read_lives(
    parts: Sequence[PartRead], wanted: Sequence[Array], stage: Callable[[str], None]
) -> list[list[tuple[LifeRow, Ruling]]]:
    """Return the lives that count of some sets of lines, all read in one pass over the table.

    Parameters
    ----------
    parts : sequence of PartRead
        The files of the table.
    wanted : sequence of (k,) int
        Lines of each set, of file and line together.
    stage : callable
        Told how many rows are read again.

    Returns
    -------
    list of list of (LifeRow, Ruling)
        The lives of each set in the order of the table, with what their endings count as.
    """
    lines = np.unique(np.concatenate(wanted))
    if not len(lines):
        return [[] for _ in wanted]
    stage(f"reading {len(lines):,} rows again, of lives that are looked at one by one")
    readers = readers_of(parts)
    sets = [set(w.tolist()) for w in wanted]
    out: list[list[tuple[LifeRow, Ruling]]] = [[] for _ in wanted]
    for i, life, used in read_lines(parts, lines):
        judged = [(x, readers[i].verdict_of(x)) for x in split_modified(life)] if used else []
        found = [(x, v) for x, v in judged if v.counts_as != "excluded"]
        line = i * SPAN + (life.origin.row or 0)
        for mine, here in zip(out, sets, strict=True):
            if line in here:
                mine += found
    return out
