"""What hangs on an engine's age alone, for very many engines: worked out once for each age.

Of so many that even their different ages are many, it is worked out at `MOST_AGES` ages evenly
apart and read off straight lines between them. The ages are then a fraction of an hour to an hour
apart. A chance that is read off lies within 1e-3 of itself where another draw becomes the edge, and
within 1e-5 elsewhere, far below the two digits that are shown.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array

MOST_AGES = 4_096
"""Different ages up to which each is worked out by itself."""

NEAR_START = 64
"""Further ages near the start of life, each a fixed part above the one before."""


def at_ages(ages: Array, work: Callable[[Array], Array]) -> Array:
    """Return (k, n) what `work` makes of each of `ages` (n,).

    Parameters
    ----------
    ages : (n,) float
        Hours of each engine, in any order.
    work : callable
        Takes rising ages (m,) and returns (k, m); each column hangs on its own age alone.
    """
    some, place = np.unique(ages, return_inverse=True)
    place = place.ravel()
    if len(some) <= MOST_AGES:
        return work(some)[:, place]
    low, top = float(some[0]), float(some[-1])
    start = max(low, 1e-3 * top)
    nodes = np.unique(np.concatenate([
        np.linspace(low, top, MOST_AGES), np.geomspace(start, 0.1 * top + start, NEAR_START),
    ]))  # fmt: skip
    return np.stack([np.interp(some, nodes, row) for row in work(nodes)])[:, place]
