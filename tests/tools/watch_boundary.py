"""Try the bounds of `survival/change/boundary.py`: python tests/tools/watch_boundary.py [FLEETS]

Prints, for each length of the watch and each baseline, the share of fleets without a change whose
watch passes the bound at any time, over the chance stated: 1 or less everywhere but for the error
of simulation.
"""

from __future__ import annotations

import sys

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.change.boundary import (
    CHANCES,
    boundary,
    greatest_ratio,
    simulate_watch,
)

RATIOS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0)
MEANS = (0.1, 0.3, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 16.0, 32.0, 64.0, 128.0, 400.0)
MOST_EXPECTED = 30.0


def false_alarms(mean: float, ratio: float, n: int, *, seed: int = 41_301) -> Array:
    """Return (3,) shares of `n` fleets that pass the bounds of `CHANCES`."""
    before, at = simulate_watch(mean, ratio, n, seed=seed)
    told = greatest_ratio(before, at, ratio)[0].max(axis=1)
    kinds, place = np.unique(before, return_inverse=True)
    out = []
    for chance in CHANCES:
        bound = np.array([boundary(chance, b, ratio) for b in kinds.tolist()])[place.ravel()]
        out.append(float((told >= bound).mean()))
    return np.array(out)


def main(fleets: int = 60_000) -> None:
    """Print the table."""
    for ratio in RATIOS:
        for mean in (m for m in MEANS if m * ratio <= MOST_EXPECTED):
            n = fleets if mean * ratio < 8 else fleets // 4
            held = false_alarms(mean, ratio, n) / np.array(CHANCES)
            print(f"{ratio:5g} {mean:5g}  " + "  ".join(f"{x:.2f}" for x in held), flush=True)


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
