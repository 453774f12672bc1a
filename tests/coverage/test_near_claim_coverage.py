"""Claims on lives that are not Weibull: wrongly called supported, and missed, before and after.

The truths are those by which `bands/near_claim.py` was tuned; seeds are others. Of 600 fleets a
cell (standard error up to 1.6 points), in 100, without the bound near the claim (none) and with it
at shares of the asked deviate:

                             none   0.60   0.70   0.74   0.78   0.82   0.90   1.00
    truth at the limit
      weak share a             21    8.8    7.3    6.5    6.2    5.3    3.7    3.0
      weak share b             15    7.8    6.2    5.5    4.5    4.2    3.2    2.7
      weak share c             19    9.5    6.7    5.8    5.0    4.7    3.7    2.5
      Weibull, shape 2.5      4.0    3.0    2.8    2.7    2.5    2.3    1.8    1.3
      Weibull, shape 1.5      4.2    3.3    3.2    3.2    3.2    2.7    2.2    1.5
      lognormal               7.5    4.8    4.3    4.2    4.0    3.5    2.7    2.2
    half the accepted chance
      weak share a             99     92     89     88     86     85     80     73
      weak share b             98     93     91     89     88     86     82     75
      weak share c             98     95     92     90     89     88     83     77
      Weibull, shape 2.5       90     87     86     84     84     82     78     70
      Weibull, shape 1.5       88     86     85     84     83     81     78     73
      lognormal                96     91     88     88     86     86     81     72

Other seeds had up to 3 points more at the limit at 0.78. The share is 0.75: where both goals cannot
be had, errors of at most 7 in 100 come before nine in ten of the honest claims (a: 88 of 100 stay).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from advice_fleets import made_settings
from weak_fleets import CLAIM_H, fleet, weak_share, weibull

from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array
from fleetstats.survival.weibull.fit_weibull import try_fit

ACCEPTED = 0.10
FLEETS = 120


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
