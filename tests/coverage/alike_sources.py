"""Fleets whose sources are all alike: what they are told to differ by is chance."""

from __future__ import annotations

import numpy as np

from fleetstats.spells import Spells

SCALE_H = 2000.0


def alike(sources: int, engines: int, shape: float, k: int) -> Spells:
    """Return fleet `k` of `sources` sources of `engines` engines each that share one Weibull life.

    Three engines in ten join at 0 to 600 h; each is watched for 100 to 1,500 h.
    """
    rng = np.random.default_rng([12, sources, engines, round(100 * shape), k])
    n = sources * engines
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0.0, 600.0, n), 0.0)
    life = SCALE_H * ((entry / SCALE_H) ** shape + rng.exponential(size=n)) ** (1.0 / shape)
    until = entry + rng.uniform(100.0, 1500.0, n)
    names = np.array([f"S-{i + 1}" for i in range(sources)])
    return Spells.of(
        entry,
        np.minimum(life, until),
        life <= until,
        unit=[f"E-{i}" for i in range(n)],
        source=np.repeat(names, engines),
    )
