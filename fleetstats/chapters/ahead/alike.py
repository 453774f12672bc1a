"""Many engines in groups that fail with nearly one chance, so that a group's failures are drawn.

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

from fleetstats.core.value import Array

GROUPS = 32
"""Groups of engines alike in chance."""

CELLS = 1_024
"""Cells of engines alike in chance and in hours, about, at whose middle a season is followed."""


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
