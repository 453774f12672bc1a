"""How many lives pass each of some ages in each month, without asking every life at every age.

A life passes later ages on later days. So its months cut the ages that it passes into runs, and
all that has to be found of a life is the first age of each of its months.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array

Pair = tuple[Array, Array]

Part = tuple[Array | None, Array]
"""Which lives are looked at (n,) bool, None for all, and the ages that are asked about, rising."""

BLOCK = 20_000
"""Lives taken at a time; it bounds memory and changes no digit of whole weights."""


def passing_by_month(
    hours: Pair, days: Pair, weight: Array, parts: Sequence[Part], edge_day: Array
) -> list[Array]:
    """Return for each part the weight of its lives that pass each of its ages in each month.

    Parameters
    ----------
    hours : tuple of (n,) float
        Hours at which observation of each life began and ended.
    days : tuple of (n,) float
        Ordinal days of the two.
    weight : (n,) float
        Equal lives that each stands for.
    parts : sequence of Part
        A life passes those of the u ages of a part after its begin and up to its end.
    edge_day : (m + 1,) float
        Days between which the months lie, each closed above; days beyond them belong to the first
        and the last.

    Returns
    -------
    list of (u, m) float
    """
    m = len(edge_day) - 1
    # the months of a life are found once, at the ages of all parts
    age_h = np.unique(np.concatenate([ages for _, ages in parts]))
    ranks = [np.append(np.searchsorted(ages, age_h), len(ages)) for _, ages in parts]
    steps = [np.zeros((len(ages) + 1) * m) for _, ages in parts]
    moves = [np.zeros((len(ages) + 1) * m) for _, ages in parts]
    for at in range(0, len(weight), BLOCK):
        block = slice(at, at + BLOCK)
        runs = _Runs((hours[0][block], hours[1][block]), (days[0][block], days[1][block]),
                     age_h, edge_day)  # fmt: skip
        for (mine, _), rank, step, moved in zip(parts, ranks, steps, moves, strict=True):
            own = weight[block] if mine is None else np.where(mine[block], weight[block], 0.0)
            runs.add_steps(own, rank, step, moved)
    return [_summed(x.reshape(-1, m), y.reshape(-1, m)) for x, y in zip(steps, moves, strict=True)]


def _summed(step: Array, moved: Array) -> Array:
    """Return the weight at each age by month; lives that are moved leave a month for the next."""
    step -= moved
    step[:, 1:] += moved[:, :-1]
    told = np.cumsum(step, axis=0)[:-1]
    return np.asarray(np.maximum(told, 0.0, out=told))


class _Runs:
    """Some lives, and the ages that they pass: for each life those at places `low` to `high`."""

    def __init__(self, hours: Pair, days: Pair, age_h: Array, edge_day: Array) -> None:
        self.age_h, self.edge_day, self.m = age_h, edge_day, len(edge_day) - 1
        self.entry_h, self.entry_day = hours[0], days[0]
        self.slope = (days[1] - days[0]) / (hours[1] - hours[0])
        self.low = np.searchsorted(age_h, hours[0], side="right")
        self.high = np.searchsorted(age_h, hours[1], side="right")
        self.found = self.steps()

    def day(self, life: Array, place: Array) -> Array:
        """Return the days on which lives pass the ages at some places."""
        run_h = self.age_h[place] - self.entry_h[life]
        return np.asarray(self.entry_day[life] + run_h * self.slope[life])

    def month(self, life: Array, place: Array) -> Array:
        """Return the months of those days."""
        after = np.searchsorted(self.edge_day, self.day(life, place), side="left")
        return np.asarray(np.clip(after - 1, 0, self.m - 1))

    def steps(self) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
        """Return where the months of lives change.

        Returns
        -------
        (life, low, first, high, last)
            A life is added to the month in which it passes its first age, and taken off that of its
            last past that age.
        (life, place, month)
            It is moved on from each month before the last at the first age after the month's end.
        """
        life = np.flatnonzero(self.low < self.high)
        low, high = self.low[life], self.high[life]
        first, last = self.month(life, low), self.month(life, high - 1)
        n = last - first
        own = np.repeat(life, n)
        month = np.repeat(first - (np.cumsum(n) - n), n) + np.arange(int(n.sum()))
        return (life, low, first, high, last), (own, self.turns(own, month), month)

    def add_steps(self, weight: Array, rank: Array, step: Array, moved: Array) -> None:
        """Add the lives of a part, by the places of its own ages.

        Parameters
        ----------
        weight : (n,) float
            0 for lives that are none of the part.
        rank : (u + 1,) int
            Place of each of all ages, and of their end, among those of the part.
        step, moved : ((v + 1) m,) float
            Weight added and taken off, and moved on, at each age and month; added to in place.
        """
        (life, low, first, high, last), turned = self.found
        of = weight[life]
        step += np.bincount(rank[low] * self.m + first, weights=of, minlength=len(step))
        step -= np.bincount(rank[high] * self.m + last, weights=of, minlength=len(step))
        of = weight[turned[0]]
        if not of.all():
            mine = np.flatnonzero(of)
            turned, of = tuple(x[mine] for x in turned), of[mine]
        at = rank[turned[1]] * self.m + turned[2]
        each = None if np.all(of == 1.0) else of
        moved += np.bincount(at, weights=each, minlength=len(moved))

    def turns(self, life: Array, month: Array) -> Array:
        """Return the places of the first ages that lives pass after their days in a month.

        Found by the line turned round, and settled by the days themselves, which rounding puts
        beside it.
        """
        end = self.edge_day[month + 1]
        about = self.entry_h[life] + (end - self.entry_day[life]) / self.slope[life]
        low, high = self.low[life], self.high[life] - 1
        place = np.clip(np.searchsorted(self.age_h, about, side="right"), low + 1, high)
        while True:
            early = (place > low) & (self.day(life, np.maximum(place - 1, low)) > end)
            late = ~early & (self.day(life, place) <= end)
            if not (early.any() or late.any()):
                return np.asarray(place)
            place = place - early + late
