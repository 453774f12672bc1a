"""Claims on lives that are not Weibull: wrongly called supported, and missed, before and after.

The truths are those by which `bands/near_claim.py` was tuned; seeds are others. Of 300 fleets a
cell (standard error up to 2.9 points), without and with the bound near the claim, in 100:

    truth at the limit:      weak share a 23 to 7, b 14 to 3, c 18 to 1; Weibull 3 and 3
    half the accepted:       Weibull 90 to 85 (shape 1.5: 86 to 81), lognormal 94 to 86,
                             weak share a 98 to 74: no bound without a shape says it oftener
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit

CLAIM_H, ACCEPTED = 1000.0, 0.10
GRID_H = np.concatenate([[0.0], np.geomspace(0.5, 20000.0, 4000)])
FLEETS = 120


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


def supported(
    hazard: Callable[[Array], Array], failing: float, fleets: int = FLEETS
) -> tuple[float, float]:
    """Return the share of fleets whose claim is supported, without and with the bound near it."""
    rng, what = np.random.default_rng(31), Quantity.reliability(CLAIM_H)
    without = kept = 0
    for _ in range(fleets):
        spells = fleet(rng, hazard, failing)
        lives = Quoter.of(spells, try_fit(spells), made_settings())
        curve = lives._of_curve(lives.asked.interval(what), what).low or 0.0
        without += curve >= 1.0 - ACCEPTED
        kept += (lives.interval(what).low or 0.0) >= 1.0 - ACCEPTED
    return without / fleets, kept / fleets


@pytest.mark.parametrize(
    "hazard",
    [weak_share(0.15, 300.0, 0.309), pytest.param(weak_share(0.10, 300.0, 0.526),
     marks=pytest.mark.slow), pytest.param(weak_share(0.10, 600.0, 0.891), marks=pytest.mark.slow)],
    ids=["a", "c", "b"],
)  # fmt: skip
def test_a_weak_share_at_the_limit_is_seldom_called_supported(
    hazard: Callable[[Array], Array],
) -> None:
    """At most 7 in 100, within two standard errors; the curve alone says it far oftener."""
    without, kept = supported(hazard, ACCEPTED)
    assert kept <= 0.07 + 2.0 * np.sqrt(0.07 * 0.93 / FLEETS)
    assert without >= kept + 0.05


@pytest.mark.slow
def test_honest_claims_are_seldom_lost() -> None:
    """Weibull lives at half the accepted chance: nine in ten of the claims remain."""
    without, kept = supported(weibull, 0.5 * ACCEPTED)
    assert kept >= 0.9 * without


def test_a_life_and_a_claim_ask_one_bound() -> None:
    rng = np.random.default_rng(8)
    held = 0
    for _ in range(15):
        spells = fleet(rng, weak_share(0.15, 300.0, 0.309), 0.08)
        lives = Quoter.of(spells, try_fit(spells), made_settings())
        life = lives.interval(Quantity.life(ACCEPTED))
        held += life.method == "near-claim"
        for hours in (0.999 * (life.low or 0.0), 1.001 * (life.low or 0.0)):
            low = lives.interval(Quantity.reliability(hours)).low or 0.0
            assert (low >= 1.0 - ACCEPTED) == (hours <= (life.low or 0.0))
    assert held >= 3
