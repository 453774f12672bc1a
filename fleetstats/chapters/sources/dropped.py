"""Engines that drop off a source's list: how many, and whether they are those with most hours.

On the day an engine was last read, its hours are set beside those which the other engines of its
source had on that day, by a straight line between the begin of their lives, or of watching them,
and their last reading.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from fleetstats.chapters.sources.placed import HourLines, place_among
from fleetstats.chapters.sources.values import DropOff
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.survival.counting.leaving import chance_of_ranks

_NO_DAY = np.iinfo(np.int64).max
"""Stands for a day that is not told: later than any."""


def weigh_drop_off(rows: Sequence[LifeRow], stale_days: int) -> DropOff | None:
    """Return the engines of one source that dropped off its list; None without dated readings.

    Parameters
    ----------
    rows : sequence of LifeRow
        Lives told by the source.
    stale_days : int
        Days before the source's latest reading from which on an engine is no longer read.
    """
    dated = [(r, day.toordinal()) for r in rows if (day := r.last_date) is not None]
    if not dated:
        return None
    oldest = max(day for _, day in dated) - stale_days
    missing = [r.ending == "lost" or (r.ending == "running" and d < oldest) for r, d in dated]
    gone = np.array(missing, dtype=bool)
    undated = sum(r.ending == "lost" and r.last_date is None for r in rows)
    begun = [_begin(r) for r, _ in dated]
    first = np.array([_NO_DAY if day is None else day.toordinal() for day, _ in begun])
    last = np.array([day for _, day in dated])
    lines = HourLines(
        first=first,
        last=last,
        first_h=np.array([hours for _, hours in begun]),
        last_h=np.array([r.exit_h for r, _ in dated]),
    )
    told = first < last
    below, others = _placed(lines.select(told & gone), lines.select(told))
    below, others = below[others > 0], others[others > 0]
    n = len(others)
    return DropOff(
        n=int(gone.sum()) + undated,
        n_ranked=n,
        older=math.fsum(below / others) / n if n else None,
        p=chance_of_ranks(1 + below, 1 + others) if n else None,
    )


def _placed(gone: HourLines, lines: HourLines) -> tuple[Array, Array]:
    """Return, of each engine gone, how many others had fewer hours on its day, and how many were.

    On its day each stands on its own line, whose end may lie a rounding below its hours.
    """
    below, there = place_among(lines, gone.last, gone.last_h)
    return below - (gone.hours_on(gone.last) < gone.last_h), there - 1


def _begin(row: LifeRow) -> tuple[dt.date | None, float]:
    """Return the day from which the hours of a life are told, and the hours then."""
    if row.in_service is not None:
        return row.in_service, 0.0
    return row.observed_from, row.entry_h
