"""Which step of a distribution does each of very many draws fall on?"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

CELLS = 512
"""Equal parts of the unit interval for which the first step is looked up; a power of two, so that
their ends are exact."""

STEPS_UP = 4
"""Steps by which a draw is moved up from there before it is sought by halving."""


def draw_places(chance: Array, u: Array) -> Array:
    """Return (k, n) the places at which draws fall: how many chances are no greater.

    Parameters
    ----------
    chance : (k, m) float
        Cumulative chances of each distribution, rising; their last may be any number above 0.
    u : (k, n) float
        Draws within 0 to 1, below 1.

    Returns
    -------
    (k, n) int
        ``searchsorted(chance, u * chance[-1], side="right")`` of each row, at most m - 1: looked up
        by the cell of the draw, and moved up to where it belongs.
    """
    k, m = chance.shape
    last = chance[:, -1:]
    ends = np.arange(CELLS) / CELLS * last
    first = np.stack(
        [np.searchsorted(c, e, side="right") for c, e in zip(chance, ends, strict=True)]
    )
    row = np.arange(k)[:, None]
    at = np.minimum(first, m - 1).ravel()[((u * CELLS).astype(np.int64) + row * CELLS).ravel()]
    goal = (u * last).ravel()
    flat, base = chance.ravel(), np.repeat(np.arange(k) * m, u.shape[1])
    short = np.flatnonzero((flat[base + at] <= goal) & (at < m - 1))
    for _ in range(STEPS_UP):
        at[short] += 1
        short = short[(flat[base[short] + at[short]] <= goal[short]) & (at[short] < m - 1)]
    for own in np.unique(base[short]).tolist():
        mine = short[base[short] == own]
        there = np.searchsorted(flat[own : own + m], goal[mine], side="right")
        at[mine] = np.minimum(there, m - 1)
    return np.asarray(at.reshape(u.shape))
