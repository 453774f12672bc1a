"""The bound for an assumed shape, as the product computes it, in the forms that tests compare."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.equivalents import failure_bound, life_equivalents, poisson_allowance
from fleetstats.spells import Spells


def reliability_low(
    spells: Spells, shape: float, hours: float, *, confidence: float = 0.95
) -> float:
    """Return the lower bound of the chance of reaching `hours`."""
    allowance = poisson_allowance(spells.n_failed, confidence)
    return float(1.0 - failure_bound(life_equivalents(spells, shape, hours), allowance)[0])


def life_low_h(spells: Spells, shape: float, p: float, *, confidence: float = 0.95) -> float:
    """Return the lower bound of the hours by which a share `p` has failed.

    The bound of the cumulative hazard at h is m / N(h) and N(h) falls as h ** -shape.
    """
    oldest = spells.oldest_h
    rise = -np.log(reliability_low(spells, shape, oldest, confidence=confidence))
    return float(oldest * (-np.log1p(-p) / rise) ** (1.0 / shape))
