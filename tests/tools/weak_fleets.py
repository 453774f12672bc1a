"""Fleets whose lives are not Weibull: a weak share beside the rest, by a stated chance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells import Spells

CLAIM_H = 1000.0
GRID_H = np.concatenate([[0.0], np.geomspace(0.5, 20000.0, 4000)])


def weibull(t: Array) -> Array:
    return np.asarray((t / CLAIM_H) ** 2.5)


def weak_share(share: float, weak_h: float, time: float) -> Callable[[Array], Array]:
    """A share wears out around `weak_h`, the rest around 3,500 h; hours run `time` as fast."""

    def hazard(t: Array) -> Array:
        u = t * time
        weak, rest = np.exp(-((u / weak_h) ** 3)), np.exp(-((u / 3500.0) ** 4))
        return np.asarray(-np.log(share * weak + (1.0 - share) * rest))

    return hazard


def fleet(rng: np.random.Generator, hazard: Callable[[Array], Array], failing: float) -> Spells:
    """Return 250 engines, half of them past the claim, of which a stated share fails by it."""
    n = 250
    h = hazard(GRID_H) * -np.log1p(-failing) / float(hazard(np.array([CLAIM_H]))[0])
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0.0, 600.0, n), 0.0)
    stop = np.maximum(entry + 50.0, rng.uniform(200.0, 2200.0, n))
    life = np.interp(np.interp(entry, GRID_H, h) + rng.standard_exponential(n), h, GRID_H)
    return Spells.of(entry, np.minimum(life, stop), life <= stop)
