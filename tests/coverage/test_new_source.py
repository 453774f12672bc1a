"""Does the band for a new source hold a source that it has not seen?

Pools are simulated from stated truth: sources of 40 engines each, shape 2.5, log scales spread
normally with a known standard deviation tau around log 2,000 h, three engines in ten joining late
(0 to 600 h), each watched for 100 to 1,500 h: about 7 failures a source. One more source is drawn
and kept back. The band is nominal 95 %.

Measured once with 500 pools a cell (Monte Carlo error 1.0 point): see `MEASURED`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from between_pools import pool

from fleetstats.survival.groups.between import fit_between

MEASURED = {
    (6, 0.2): (0.960, 0.972),
    (6, 0.3): (0.950, 0.960),
    (6, 0.4): (0.954, 0.958),
    (10, 0.2): (0.948, 0.944),
    (10, 0.3): (0.944, 0.952),
    (10, 0.4): (0.952, 0.950),
    (20, 0.3): (0.960, 0.952),
}
"""(sources, tau): share of pools whose band held the new source's scale, and its B10 life."""


def coverage(sources: int, tau: float, pools: int, seed: int) -> tuple[float, float]:
    held = np.zeros((pools, 2), dtype=bool)
    for k in range(pools):
        rng = np.random.default_rng([seed, sources, round(100 * tau), k])
        spells, scale = pool(rng, sources, 40, tau)
        life = scale * (-math.log(0.9)) ** (1 / 2.5)
        new = fit_between(spells, level=0.95, rivals=()).new
        held[k] = (
            new.scale_low_h <= scale <= new.scale_high_h,
            new.life_low_h <= life <= new.life_high_h,
        )
    return tuple(held.mean(axis=0))


def test_a_few_pools() -> None:
    """Twenty pools: fewer than 16 held would happen once in 400 times at 95 %."""
    scale, life = coverage(6, 0.3, 20, seed=1)
    assert scale >= 0.8
    assert life >= 0.8


@pytest.mark.slow
@pytest.mark.parametrize(("sources", "tau"), sorted(MEASURED))
def test_new_source_band_holds_94_to_97_in_100(sources: int, tau: float) -> None:
    pools = 500
    scale, life = coverage(sources, tau, pools, seed=7)
    assert (scale, life) == pytest.approx(MEASURED[sources, tau], abs=0.004)
    error = math.sqrt(0.95 * 0.05 / pools)
    for held in (scale, life):
        assert 0.94 - error <= held <= 0.97 + error
