"""How many lives pass each of some ages in each month, without asking every life at every age.

A life passes later ages on later days. So its months cut the ages that it passes into runs, and
all that has to be found of a life is the first age of each of its months. They are found month by
month: the lives of one month, and their ages, are few enough to stay at hand of the processor.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array

Pair = tuple[Array, Array]

Part = tuple[Array | None, Array]
"""Which lives are looked at (n,) bool, None for all, and the ages that are asked about, rising."""

SLOTS_AN_AGE = 4
"""Slots of equal width, to an age, by which an age is found; it changes no digit."""


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
    # the months of a life are found once, at the ages of all parts
    age_h = np.unique(np.concatenate([ages for _, ages in parts]))
    if not len(age_h):
        return [np.zeros((0, len(edge_day) - 1)) for _ in parts]
    runs = _Runs(hours, days, age_h, edge_day)
    out: list[Array] = [np.zeros(0)] * len(parts)
    sets = [_Apart(parts, those, age_h, len(weight)) for those in _apart(parts)]
    steps = [runs.ends(x, weight) for x in sets]
    for month in range(runs.m - 1):
        life, place = runs.turns(month)
        of = None if np.all(weight[life] == 1.0) else weight[life]
        for x, step in zip(sets, steps, strict=True):
            moved = np.bincount(x.cells(life, place), weights=of, minlength=x.size)
            step[month] -= moved
            step[month + 1] += moved
    for x, step in zip(sets, steps, strict=True):
        for part, cells in x.places():
            told = step[:, cells]
            np.cumsum(told, axis=1, out=told)
            out[part] = np.maximum(told, 0.0, out=told).T
    return out


def _apart(parts: Sequence[Part]) -> list[list[int]]:
    """Return the parts in sets, no life being of two parts of a set."""
    sets: list[tuple[list[int], Array]] = []
    whole: list[list[int]] = []
    for k, (mine, _) in enumerate(parts):
        if mine is None:
            whole.append([k])
            continue
        for those, theirs in sets:
            if not np.any(theirs & mine):
                those.append(k)
                theirs |= mine
                break
        else:
            sets.append(([k], mine.copy()))
    return [*whole, *(those for those, _ in sets)]


class _Apart:
    """Parts no two of which share a life: a cell for each age of each, and for its end.

    Lives that are of no part stand in cells of their own, after the others.
    """

    def __init__(self, parts: Sequence[Part], those: Sequence[int], age_h: Array, n: int) -> None:
        self.those = those
        self.many = [len(parts[k][1]) + 1 for k in those]
        self.size = sum(self.many) + 1
        label = np.full(n, len(those))
        rows, at = [], 0
        for row, k in enumerate(those):
            mine, ages = parts[k]
            label[... if mine is None else mine] = row
            rows.append(at + np.append(np.searchsorted(ages, age_h), len(ages)))
            at += self.many[row]
        rows.append(np.full(len(age_h) + 1, at))
        self._begin = label * (len(age_h) + 1)
        self._cell = np.concatenate(rows)

    def cells(self, life: Array, place: Array) -> Array:
        """Return the cells of lives at some places among all ages."""
        return np.asarray(self._cell.take(self._begin.take(life) + place))

    def places(self) -> list[tuple[int, slice]]:
        """Return each part, and where the cells of its ages are."""
        first = np.cumsum([0, *self.many]).tolist()
        return [(k, slice(a, b - 1)) for k, a, b in zip(self.those, first, first[1:], strict=False)]


class _Runs:
    """Some lives, and the ages that they pass: for each life those at places `low` to `high`."""

    def __init__(self, hours: Pair, days: Pair, age_h: Array, edge_day: Array) -> None:
        self.age_h, self.edge_day, self.m = age_h, edge_day, len(edge_day) - 1
        self.entry_h, self.entry_day = hours[0], days[0]
        self.slope = (days[1] - days[0]) / (hours[1] - hours[0])
        self.low = np.searchsorted(age_h, hours[0], side="right")
        self.high = np.searchsorted(age_h, hours[1], side="right")
        self.life = np.flatnonzero(self.low < self.high)
        self.first = self._month(self.low[self.life])
        self.last = self._month(self.high[self.life] - 1)
        self._slot_h, self._guide = _slots(age_h)

    def _month(self, place: Array) -> Array:
        """Return the months in which the lives that pass an age pass those at some places."""
        run_h = self.age_h[place] - self.entry_h[self.life]
        day = self.entry_day[self.life] + run_h * self.slope[self.life]
        after = np.searchsorted(self.edge_day, day, side="left")
        return np.asarray(np.clip(after - 1, 0, self.m - 1))

    def ends(self, apart: _Apart, weight: Array) -> Array:
        """Return (m, size) what lives add to the months of their first and last ages.

        A life is added to the month in which it passes its first age, and taken off that of its
        last past that age.
        """
        at = self.first * apart.size + apart.cells(self.life, self.low[self.life])
        past = self.last * apart.size + apart.cells(self.life, self.high[self.life])
        of = weight[self.life]
        step = np.bincount(np.append(at, past), weights=np.append(of, -of),
                           minlength=self.m * apart.size)  # fmt: skip
        return np.asarray(step.astype(np.float64, copy=False).reshape(self.m, apart.size))

    def turns(self, month: int) -> tuple[Array, Array]:
        """Return the lives that pass ages in a month and later, and the first that they pass later.

        Found by the line turned round, and settled by the days themselves, which rounding puts
        beside it.
        """
        life = self.life[(self.first <= month) & (self.last > month)]
        end = self.edge_day[month + 1]
        entry_h, entry_day, slope = (x.take(life) for x in (self.entry_h, self.entry_day,
                                                            self.slope))  # fmt: skip
        low, high = self.low.take(life), self.high.take(life) - 1
        place = np.clip(self._above(entry_h + (end - entry_day) / slope), low + 1, high)

        def later(place: Array) -> Array:
            return np.asarray(entry_day + (self.age_h.take(place) - entry_h) * slope > end)

        while True:
            early = (place > low) & later(np.maximum(place - 1, low))
            late = ~early & ~later(place)
            if not (early.any() or late.any()):
                return life, place
            place = place - early + late

    def _above(self, h: Array) -> Array:
        """Return ``searchsorted(age_h, h, side="right")``, the last place at most."""
        slot = np.clip((h - self.age_h[0]) * self._slot_h, 0, len(self._guide) - 1)
        place = self._guide.take(slot.astype(np.int64))
        place += self.age_h.take(place) <= h
        place = np.minimum(place, len(self.age_h) - 1)
        beyond = np.flatnonzero(self.age_h.take(place) <= h)  # more than one age in its slot
        place[beyond] = np.searchsorted(self.age_h, h.take(beyond), side="right")
        return np.asarray(np.minimum(place, len(self.age_h) - 1))


def _slots(age_h: Array) -> tuple[float, Array]:
    """Return slots to an hour, and the place of the first age in or after each."""
    n = max(int(SLOTS_AN_AGE * len(age_h)), 1)
    span = float(age_h[-1] - age_h[0])
    slot_h = n / span if span > 0.0 else 0.0
    slot = np.clip((age_h - age_h[0]) * slot_h, 0, n - 1).astype(np.int64)
    return slot_h, np.searchsorted(slot, np.arange(n))
