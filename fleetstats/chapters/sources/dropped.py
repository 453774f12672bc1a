"""Engines that drop off a source's list: how many, and whether they are those with most hours.

On the day an engine was last read, its hours are set beside those which the other engines of its
source had on that day, by a straight line between the begin of their lives, or of watching them,
and their last reading.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from fleetstats.chapters.sources.values import DropOff
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.survival.counting.leaving import chance_of_ranks


def weigh_drop_off(rows: Sequence[LifeRow], stale_days: int) -> DropOff | None:
    """Return the engines of one source that dropped off its list; None without dated readings.

    Parameters
    ----------
    rows : sequence of LifeRow
        Lives told by the source.
    stale_days : int
        Days before the source's latest reading from which on an engine is no longer read.
    """
    dated = [(r, day) for r in rows if (day := r.last_date) is not None]
    if not dated:
        return None
    latest = max(day for _, day in dated)
    gone = [
        (r, day)
        for r, day in dated
        if r.ending == "lost" or (r.ending == "running" and (latest - day).days > stale_days)
    ]
    undated = sum(r.ending == "lost" and r.last_date is None for r in rows)
    line = {id(r): x for r, day in dated if (x := _line(r, day)) is not None}
    rank, size, lower = [], [], 0.0
    for fewer, others in _placed([(r, day) for r, day in gone if id(r) in line], line):
        if others:
            rank.append(1 + fewer)
            size.append(1 + others)
            lower += fewer / others
    return DropOff(
        n=len(gone) + undated,
        n_ranked=len(rank),
        older=lower / len(rank) if rank else None,
        p=chance_of_ranks(rank, size) if rank else None,
    )


def _placed(
    gone: Sequence[tuple[LifeRow, dt.date]], line: dict[int, tuple[int, int, float, float]]
) -> list[tuple[int, int]]:
    """Return, of each engine gone, how many others had fewer hours on its day, and how many were.

    All engines of one day are placed together, so that the work grows with engines and days.
    """
    if not gone:
        return []
    first, last, first_h, last_h = (np.array(x) for x in zip(*line.values(), strict=True))
    place = {key: k for k, key in enumerate(line)}
    by_day: dict[int, list[int]] = defaultdict(list)
    for i, (_, gone_on) in enumerate(gone):
        by_day[gone_on.toordinal()].append(i)
    out = [(0, 0)] * len(gone)
    for day, which in by_day.items():
        on = np.flatnonzero((first <= day) & (day <= last))
        share = (day - first[on]) / (last[on] - first[on])
        hours = first_h[on] + share * (last_h[on] - first_h[on])
        own = np.array([gone[i][0].exit_h for i in which])
        fewer = _how_many_below(hours, own)
        mine = np.searchsorted(on, [place[id(gone[i][0])] for i in which])
        for i, n, h, own_h in zip(which, fewer.tolist(), hours[mine], own, strict=True):
            out[i] = (n - int(h < own_h), len(on) - 1)
    return out


def _how_many_below(hours: Array, own: Array) -> Array:
    if len(own) < 4:  # counting is quicker than sorting
        return np.array([np.count_nonzero(hours < h) for h in own])
    return np.searchsorted(np.sort(hours), own, side="left")


def _line(row: LifeRow, last: dt.date) -> tuple[int, int, float, float] | None:
    """Return the first and the last day (ordinals) between which hours are told, and the hours."""
    first, first_h = row.in_service, 0.0
    if first is None:
        first, first_h = row.observed_from, row.entry_h
    if first is None or first >= last:
        return None
    return first.toordinal(), last.toordinal(), first_h, row.exit_h
