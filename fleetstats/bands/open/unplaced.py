"""Failures taken away one by one, and failures whose ages are known only by their limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array

Unplaced = tuple[tuple[float, float, float], ...]
"""Failures by the ages in hours between which they came, and how many."""

ALL_COUNTED = 40
"""Failures taken away one by one; past so many, in steps that grow by a fifth."""


def members(n: int) -> list[int]:
    """Return how many of the youngest of `n` failures are taken away, member by member."""
    out = list(range(min(n, ALL_COUNTED) + 1))
    while out[-1] < n:
        out.append(min(n, max(out[-1] + 1, int(1.2 * out[-1]))))
    return out


@dataclass(frozen=True, slots=True)
class UnplacedAges:
    """Failures of unknown age, fewer and fewer of them.

    Parameters
    ----------
    more, less : (L,) float
        How many are left, and taken away.
    least, greatest : (L,) float
        Least and greatest sum of the logs of their ages, over the reference, that so many can have.
    """

    more: Array
    less: Array
    least: Array
    greatest: Array

    def sums(self, known: Array, failures: Array, end: int) -> Array:
        """Return (L, K) sums of log ages with each number of them at their least ages, or most.

        Parameters
        ----------
        known : (K,) float
            Sums of those whose ages are known.
        failures : (L, K) float
            How many both are; of none there is no sum.
        end : int
            0 for the least ages, 1 for the greatest.
        """
        own = (self.least, self.greatest)[end]
        return np.where(failures > 0.0, np.add.outer(own, known), 0.0)


def ages_of(unplaced: Unplaced, reference_h: float) -> UnplacedAges:
    """Return the failures of unknown age, told by their limits, with log ages over a reference."""
    low, high, n = np.array(unplaced, dtype=np.float64).reshape(-1, 3).T
    less = np.asarray(members(round(float(n.sum()))), dtype=np.float64)
    more = n.sum() - less
    least, greatest = (np.log(np.maximum(x, 1e-300) / reference_h) for x in (low, high))
    return UnplacedAges(more, less, _sum_of(least, n, more), -_sum_of(-greatest, n, more))


def _sum_of(each: Array, n: Array, m: Array) -> Array:
    """Return (L,) sums of the `m` smallest of values that each occur `n` times."""
    order = np.argsort(each, kind="stable")
    counts = np.concatenate([[0.0], np.cumsum(n[order])])
    return np.asarray(np.interp(m, counts, np.concatenate([[0.0], np.cumsum((n * each)[order])])))
