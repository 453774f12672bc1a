"""How many lives pass each of some ages in each month, without asking every life at every age.

A life passes later ages on later days. So its months cut the ages that it passes into runs, and
all that has to be found of a life is the first age of each of its months.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

Pair = tuple[Array, Array]

BLOCK = 20_000
"""Lives taken at a time; it bounds memory and changes no digit of whole weights."""


def passing_by_month(
    hours: Pair, days: Pair, weight: Array, age_h: Array, edge_day: Array
) -> Array:
    """Return the weight of the lives that pass each age in each month.

    Parameters
    ----------
    hours : tuple of (n,) float
        Hours at which observation of each life began and ended.
    days : tuple of (n,) float
        Ordinal days of the two.
    weight : (n,) float
        Equal lives that each stands for.
    age_h : (u,) float
        Ages, rising. A life passes those after its begin and up to its end.
    edge_day : (m + 1,) float
        Days between which the months lie, each closed above; days beyond them belong to the first
        and the last.

    Returns
    -------
    (u, m) float
    """
    u, m = len(age_h), len(edge_day) - 1
    steps = np.zeros((u + 1) * m)
    for at in range(0, len(weight), BLOCK):
        part = slice(at, at + BLOCK)
        runs = _Runs((hours[0][part], hours[1][part]), (days[0][part], days[1][part]),
                     age_h, edge_day)  # fmt: skip
        steps += runs.steps(weight[part])
    told = np.cumsum(steps.reshape(u + 1, m), axis=0)[:u]
    return np.asarray(np.maximum(told, 0.0))


class _Runs:
    """Some lives, and the ages that they pass: for each life those at places `low` to `high`."""

    def __init__(self, hours: Pair, days: Pair, age_h: Array, edge_day: Array) -> None:
        self.age_h, self.edge_day, self.m = age_h, edge_day, len(edge_day) - 1
        self.entry_h, self.entry_day = hours[0], days[0]
        self.slope = (days[1] - days[0]) / (hours[1] - hours[0])
        self.low = np.searchsorted(age_h, hours[0], side="right")
        self.high = np.searchsorted(age_h, hours[1], side="right")

    def day(self, life: Array, place: Array) -> Array:
        """Return the days on which lives pass the ages at some places."""
        run_h = self.age_h[place] - self.entry_h[life]
        return np.asarray(self.entry_day[life] + run_h * self.slope[life])

    def month(self, life: Array, place: Array) -> Array:
        """Return the months of those days."""
        after = np.searchsorted(self.edge_day, self.day(life, place), side="left")
        return np.asarray(np.clip(after - 1, 0, self.m - 1))

    def steps(self, weight: Array) -> Array:
        """Return ((u + 1) m,) by how much the weight in each month rises at each age."""
        life = np.flatnonzero(self.low < self.high)
        low, high = self.low[life], self.high[life]
        first, last = self.month(life, low), self.month(life, high - 1)
        n = last - first
        own = np.repeat(life, n)
        month = np.repeat(first - (np.cumsum(n) - n), n) + np.arange(int(n.sum()))
        turn = self.turns(own, month)
        w, each = weight[life], weight[own]
        size = (len(self.age_h) + 1) * self.m

        def put(place: Array, months: Array, of: Array) -> Array:
            return np.bincount(place * self.m + months, weights=of, minlength=size)

        begun = put(low, first, w) + put(turn, month + 1, each)
        return np.asarray(begun - put(high, last, w) - put(turn, month, each))

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
