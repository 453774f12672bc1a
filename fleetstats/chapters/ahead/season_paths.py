"""Simulated seasons of a fleet: when its engines fail, month by month, and what comes due.

Each season takes one draw of the law of life. A small fleet draws each engine's own end; a large
one the failures of groups of engines that fail with nearly one chance (`Alike`).

Of n engines with chances p the count has the variance ``sum p (1 - p)``; if each has the mean q of
its group, ``n q (1 - q)``, which is more by the spread of p within the group. Groups are cut evenly
in ``arcsin sqrt(p)``, on which scale that spread is the same part of the variance everywhere: at
most w^2 / 3 for groups of width w, 8e-4 for `GROUPS` of them between chances of 0 and 1. Groups go
by the mean over all laws of life; where these disagree on who is alike it came to 1 %, which is
less than the chance of 4,000 seasons moves a variance by. The mean is that of the engines.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.core.value import Array

PATHS = 4000
"""Simulated seasons behind alert level and reserve."""

MANY = 1_000
"""Engines from which on groups are drawn; with fewer that takes no less time."""

GROUPS = 32
"""Groups of engines alike in chance."""

CELLS = 1_024
"""Cells of engines alike in chance and in hours, about, at whose middle a season is followed."""

_CELLS = 2_000_000
"""Seasons times engines drawn at once, to bound memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Engines in groups, and each group in cells.

    Parameters
    ----------
    order : (n,) int
        The engines, cell by cell.
    starts, size : (G,) int
        Where each group begins in that order, and how many engines it has.
    cell_starts, cell_size : (C,) int
        The same of cells.
    group_cells : (G,) int
        The first cell of each group.
    """

    order: Array
    starts: Array
    size: Array
    cell_starts: Array
    cell_size: Array
    group_cells: Array

    @classmethod
    def of(cls, chance: Array, hours: Array) -> Alike:
        """Group engines by their chances (n,) of failing, within groups by hours (n,)."""
        n = len(chance)
        angle = np.arcsin(np.sqrt(np.clip(chance, 0.0, 1.0)))
        width = max(float(np.ptp(angle)) / GROUPS, 1e-12)
        group = np.minimum((angle - angle.min()) // width, GROUPS - 1)
        order = np.lexsort((hours, group))
        starts = _begins(group[order])
        size = np.diff(starts, append=n)
        place = np.arange(n) - np.repeat(starts, size)
        cell = place // max(1, n // CELLS)
        new = np.flatnonzero((np.diff(cell, prepend=-1) != 0) | (place == 0))
        return cls(
            order=order,
            starts=starts,
            size=size,
            cell_starts=new,
            cell_size=np.diff(new, append=n),
            group_cells=np.searchsorted(new, starts),
        )

    def of_groups(self, each: Array) -> Array:
        """Return (B, G) means by group of what each engine (B, n) has."""
        return np.asarray(np.add.reduceat(each[:, self.order], self.starts, axis=1) / self.size)

    def of_cells(self, each: Array) -> Array:
        """Return (C,) means by cell of what each engine (n,) has."""
        return np.asarray(np.add.reduceat(each[self.order], self.cell_starts) / self.cell_size)

    def over_cells(self, cells: Array) -> Array:
        """Return (B, G) means by group of what each cell (B, C) has."""
        total = np.add.reduceat(cells * self.cell_size, self.group_cells, axis=1)
        return np.asarray(total / self.size)


def _begins(group: Array) -> Array:
    """Return where each group begins among rising numbers of groups (n,)."""
    return np.flatnonzero(np.diff(group, prepend=-1.0) != 0)


def season_paths(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Simulate cumulative failures by shares of the season.

    Parameters
    ----------
    draws : LifeCurves
        Laws of life; seasons take them in turn.
    age_h, width_h : (n,) float
        Hours of each engine, and hours that it will run in the season.
    share : (m,) float
        Rising, to 1.
    rng : Generator
        Its own stream.

    Returns
    -------
    (PATHS, m) int
    """
    if len(age_h) >= MANY:
        return group_by_group(draws, age_h, width_h, share, rng)
    return engine_by_engine(draws, age_h, width_h, share, rng)


def engine_by_engine(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Return `season_paths` from each engine's own end."""
    out = np.zeros((PATHS, len(share)), dtype=np.int64)
    block = max(1, _CELLS // max(1, len(age_h)))
    for first in range(0, PATHS, block):
        rows = np.arange(first, min(PATHS, first + block)) % len(draws)
        part = draws.select(rows)
        on = part.further(age_h, rng.exponential(size=(len(rows), len(age_h))))
        when = on / np.maximum(width_h, 1e-12)
        for j, s in enumerate(share):
            out[first : first + len(rows), j] = (when <= s).sum(axis=1)
    return out


def group_by_group(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Return `season_paths` from the failures of groups that are alike."""
    chance = draws.conditional_failure(age_h, width_h)
    alike = Alike.of(chance.mean(axis=0), age_h)
    by_month = _by_month(draws, age_h, width_h, share, alike)
    end = by_month[:, :, -1]
    # followed at the middle of cells, brought to the chances of the engines themselves
    by_month *= (alike.of_groups(chance) / np.where(end > 0.0, end, 1.0))[:, :, None]
    np.minimum(by_month, 1.0, out=by_month)
    parts = np.diff(by_month, axis=2, prepend=0.0, append=1.0)
    out = np.zeros((PATHS, len(share)), dtype=np.int64)
    for b in range(min(len(draws), PATHS)):
        seasons = np.arange(b, PATHS, len(draws))
        failed = rng.multinomial(alike.size, parts[b], size=(len(seasons), len(alike.size)))
        out[seasons] = failed[:, :, :-1].sum(axis=1).cumsum(axis=1)
    return out


def _by_month(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, alike: Alike
) -> Array:  # fmt: skip
    """Return (B, G, m) chances of failing by each share of the season."""
    age, width = alike.of_cells(age_h), alike.of_cells(width_h)
    chances = (draws.conditional_failure(age, s * width) for s in share)
    out = np.stack([alike.over_cells(c) for c in chances], axis=2)
    return np.asarray(np.maximum.accumulate(out, axis=2))


def season_ends(
    draws: LifeCurves, age_h: Array, exposed_h: Array, due: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Simulate the failures of a season, and the overhauls that come due.

    Parameters
    ----------
    draws : LifeCurves
        Laws of life; seasons take them in turn.
    age_h, exposed_h : (n,) float
        Hours of each engine, and those that it runs before the season ends or it is overhauled.
    due : (n,) bool
        Whether it is overhauled where it does not fail before.
    rng : Generator
        Its own stream.

    Returns
    -------
    (PATHS,) int, (PATHS,) int
        Failures, and overhauls.
    """
    if len(age_h) >= MANY:
        return _ends_by_group(draws, age_h, exposed_h, due, rng)
    rows = np.arange(PATHS) % len(draws)
    failed, done = np.zeros(PATHS, dtype=np.int64), np.zeros(PATHS, dtype=np.int64)
    block = max(1, _CELLS // max(1, len(age_h)))
    for first in range(0, PATHS, block):
        pick = rows[first : first + block]
        part = draws.select(pick)
        fails = rng.random((len(pick), len(age_h))) < part.conditional_failure(age_h, exposed_h)
        failed[first : first + len(pick)] = fails.sum(axis=1)
        done[first : first + len(pick)] = (~fails & due).sum(axis=1)
    return failed, done


def _ends_by_group(
    draws: LifeCurves, age_h: Array, exposed_h: Array, due: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return `season_ends` from the failures of groups of those due, and of the others."""
    chance = draws.conditional_failure(age_h, exposed_h)
    of_due, others = (
        _drawn(chance[:, which], age_h[which], rng) if which.any() else np.zeros(PATHS, np.int64)
        for which in (due, ~due)
    )
    return of_due + others, int(due.sum()) - of_due


def _drawn(chance: Array, age_h: Array, rng: np.random.Generator) -> Array:
    """Return (PATHS,) failures of engines with chances (B, n), seasons taking the draws in turn."""
    alike = Alike.of(chance.mean(axis=0), age_h)
    of_group = np.minimum(alike.of_groups(chance), 1.0)
    turn = np.arange(PATHS) % len(of_group)
    return np.asarray(rng.binomial(alike.size, of_group[turn]).sum(axis=1))
