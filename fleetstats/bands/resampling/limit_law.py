"""Sums over very many engines of random weights, drawn from the law that they tend to.

A sum of many independent terms, none of which rules it, is normal (central limit theorem), and the
sums that one draw of weights gives at all nodes together. Their means and covariances follow from
the terms themselves, so that a draw costs as much whether a thousand engines are weighted or a
million. How far the sums are from normal is told by their skewness, which is worked out beside;
where it is more than `MOST_SKEW`, since a few old engines rule, each engine gets its own weight as
in a smaller fleet.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fleetstats.bands.resampling.weights import Resampling
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array

MANY = 20_000
"""Engines from which on sums are drawn from their limit law; with fewer it saves little."""

MOST_SKEW = 0.05
"""Skewness of any sum up to which it is taken for normal: an edge of a band of 90 % then moves by
1.5 % of a standard deviation (Cornish & Fisher 1938, from memory), a quarter of what the chance of
a thousand draws moves it by."""

_NOTHING = 1e-14
"""Part of the largest variance beneath which what is left of one is rounding."""


def takes_limit(plan: Resampling) -> bool:
    """Return whether a plan has so many engines, with weights that may have any value."""
    return plan.scheme == "fractional" and len(plan.lives) >= MANY


@dataclass(frozen=True, slots=True)
class LimitLaw:
    """The normal law of sums (K,): `mean` (K,) and a root (K, r) of their covariances."""

    mean: Array
    root: Array

    @classmethod
    def of_terms(cls, parts: Iterable[tuple[Array, Array]]) -> LimitLaw | None:
        """Return the law of sums over engines; None where it is not near enough to normal.

        Parameters
        ----------
        parts : iterable of (lives, terms)
            Of some engines each (u,) lives that an engine stands for, and its (u, K) terms. The
            weight of m lives has mean m, variance m and third moment 2 m about the mean.
        """
        total: list[Array] = []
        for lives, terms in parts:
            weighted = terms * lives[:, None]
            cubes = 2.0 * np.einsum("uk,uk,uk->k", np.abs(weighted), terms, terms)
            new = [weighted.sum(axis=0), weighted.T @ terms, cubes]
            total = [a + b for a, b in zip(total, new, strict=True)] if total else new
        mean, spread, cubes = total
        variance = np.diag(spread)
        if np.any(cubes > MOST_SKEW * variance**1.5):
            return None
        return cls(mean, _root(spread))

    def draw(self, plan: Resampling, block: int) -> Array:
        """Return (draws, K) sums of one block of a plan; the same whenever asked."""
        rng = stream(plan.seed, "refit-limit", block)
        drawn = plan.draws_of(block)
        # rows are drawn one after the other: a block broken off begins as a whole one does
        by = rng.standard_normal((drawn.stop - drawn.start, self.root.shape[1]))
        return np.asarray(self.mean + by @ self.root.T)


def _root(spread: Array) -> Array:
    """Return (K, r) L with ``L L' = spread``, by Cholesky's method, the largest left each time."""
    left = spread.copy()
    columns: list[Array] = []
    least = _NOTHING * float(np.diag(spread).max())
    while len(columns) < len(spread):
        i = int(np.argmax(np.diag(left)))
        if left[i, i] <= least:
            break
        column = left[:, i] / np.sqrt(left[i, i])
        columns.append(column)
        left = left - column[:, None] * column
        left[i, :] = left[:, i] = 0.0
    return np.stack(columns, axis=1)
