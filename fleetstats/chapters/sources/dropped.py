"""Engines that drop off a source's list: how many, and whether they are those with most hours.

On the day an engine was last read, its hours are set beside those which the other engines of its
source had on that day, by a straight line between the begin of their lives, or of watching them,
and their last reading.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from fleetstats.chapters.sources.values import DropOff
from fleetstats.records.life import LifeRow
from fleetstats.survival.counting.leaving import chance_of_ranks


@dataclass(frozen=True, slots=True)
class _Line:
    """Hours of one engine between two days."""

    first: dt.date
    last: dt.date
    first_h: float
    last_h: float

    def hours_on(self, day: dt.date) -> float | None:
        """Return its hours on a day on which it was watched; None on another."""
        if not self.first <= day <= self.last:
            return None
        share = (day - self.first).days / (self.last - self.first).days
        return self.first_h + share * (self.last_h - self.first_h)


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
    lines = {id(r): line for r, day in dated if (line := _line(r, day)) is not None}
    rank, size, lower = [], [], 0.0
    for r, day in gone:
        if id(r) not in lines:
            continue
        others = [
            h for key, x in lines.items() if key != id(r) and (h := x.hours_on(day)) is not None
        ]
        if others:
            fewer = sum(h < r.exit_h for h in others)
            rank.append(1 + fewer)
            size.append(1 + len(others))
            lower += fewer / len(others)
    return DropOff(
        n=len(gone) + undated,
        n_ranked=len(rank),
        older=lower / len(rank) if rank else None,
        p=chance_of_ranks(rank, size) if rank else None,
    )


def _line(row: LifeRow, last: dt.date) -> _Line | None:
    first, first_h = row.in_service, 0.0
    if first is None:
        first, first_h = row.observed_from, row.entry_h
    if first is None or first >= last:
        return None
    return _Line(first=first, last=last, first_h=first_h, last_h=row.exit_h)
