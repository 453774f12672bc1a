"""Do those that leave a list have more hours than those that stay? Ranks, leaving by leaving.

At each leaving the one that left is ranked by hours among all that were then on the list. If
hours have nothing to do with leaving, it is any of them with equal chance, so the sum of the ranks
is a sum of independent draws from 1 to the number on the list, and its tail is worked out exactly
(Mantel 1963; O'Brien 1978: a rank test within risk sets, from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError

EXACT_TO = 60
"""Leavings up to which the tail is worked out; beyond, a normal curve is as good."""


def chance_of_ranks(rank: ArrayLike, size: ArrayLike) -> float:
    """Return the chance of ranks with so great a sum, or a greater, if leaving is by chance.

    Parameters
    ----------
    rank : (m,) int
        Place by hours of each that left, 1 for the fewest hours.
    size : (m,) int
        How many were on the list then, itself included.

    Raises
    ------
    FitError
        If a rank does not lie between 1 and its size.

    Examples
    --------
    >>> round(chance_of_ranks([5, 4], [5, 4]), 6)
    0.05
    """
    r, m = np.asarray(rank, dtype=int), np.asarray(size, dtype=int)
    if r.shape != m.shape or bool(((r < 1) | (r > m)).any()):
        raise FitError("A rank outside its list.", "Give ranks from 1 to the number on the list.")
    seen = int(r.sum())
    if len(r) > EXACT_TO:
        mean, variance = float((m + 1).sum()) / 2.0, float((m * m - 1).sum()) / 12.0
        z = (seen - 0.5 - mean) / math.sqrt(variance) if variance > 0.0 else -math.inf
        return 0.5 * math.erfc(z / math.sqrt(2.0))
    chance = np.ones(1)
    for n in m.tolist():
        # the sum of a draw from 0 to n - 1 and what came before, by differences of running sums
        total = np.concatenate([np.cumsum(chance), np.full(n - 1, chance.sum())])
        total[n:] -= total[:-n].copy()
        chance = total / n
    return float(min(chance[seen - len(r) :].sum(), 1.0))
