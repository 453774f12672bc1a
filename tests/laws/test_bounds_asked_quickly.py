"""A bound asked at one age, or sought by halving, is that of all ages asked one by one.

No outside source: each law holds a quick way to the plain one that it stands for.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.bayes.prior import count_lives
from fleetstats.bands.near_claim import NearClaim
from fleetstats.bands.shape_free import Settled
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival.counting.count_law import CountLaw, law_by_recursion, poisson_binomial
from fleetstats.survival.counting.many_chances import ERROR, mean_law_by_transform

SEEDS = range(4)


def made(seed: int, n: int = 300) -> Spells:
    """Return a fleet with late entries, ties, cut lives and, of odd seeds, unequal weights."""
    rng = stream(seed, "quick bounds")
    life, stop = 1500.0 * rng.weibull(2.5, n), rng.uniform(100.0, 2500.0, n)
    end = np.round(np.minimum(life, stop) / 20.0 + 1.0) * 20.0
    entry = np.where(rng.random(n) < 0.4, np.floor(0.02 * end) * 20.0, 0.0)
    weight = rng.integers(1, 4, n).astype(float) if seed % 2 else np.ones(n)
    out = Spells.of(entry, end, life < stop, weight=weight)
    return out.split_at(700.0) if seed % 3 == 0 else out


@pytest.mark.parametrize("seed", SEEDS)
def test_near_claim_at_one_age_is_that_of_many(seed: int) -> None:
    near = NearClaim.of(made(seed), least=10.0)
    hours = np.linspace(1.0, 2600.0, 60)
    for added in (0.0, 3.0):
        many = near.failure_high(hours, 0.95, added=added)
        one = [near.failure_high(hours[i : i + 1], 0.95, added=added)[0] for i in range(60)]
        np.testing.assert_allclose(one, many, rtol=1e-12, atol=0.0)
        high = near.failure_high(near.ages, 0.95, added=added)
        for p in (0.02, 0.1, 0.5):
            want = near.ages[high > p].min() if (high > p).any() else np.inf
            assert near.life_low_h(p, 0.95, added=added) == want


@pytest.mark.parametrize("seed", SEEDS)
def test_lives_by_count_are_those_of_all_ages(seed: int) -> None:
    settled = Settled.of_spells(made(seed))
    assert (np.diff(settled.hours) > 0.0).all()
    for p in (0.001, 0.05, 0.3, 0.9):
        shown = settled.failure_high(settled.hours, 0.95) <= p
        assert settled.life_low_h(p, 0.95) == (settled.hours[shown].max() if shown.any() else 0.0)
        over = settled.failure_low(settled.ends, 0.95) >= p
        assert settled.life_high_h(p, 0.95) == (settled.ends[over].min() if over.any() else None)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_last_age_with_enough_at_risk_is_that_of_all_ages(seed: int) -> None:
    for spells in (made(seed), made(seed, 40)):
        ends = np.unique(spells.exit_upper)
        for least in (1.0, 10.0, 70.0, 250.0, 1e6):
            enough = ends[spells.at_risk(ends) >= least]
            assert spells.horizon_h(least=least) == (enough[-1] if len(enough) else 0.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_life_cut_anywhere_counts_once(seed: int) -> None:
    spells = made(seed)
    if seed % 3:
        assert count_lives(spells.split_at(333.0).split_at(900.0)) == count_lives(spells)
    assert count_lives(spells) == spells.weight.sum() - sum(
        spells.weight[i]
        for i in range(len(spells))
        for j in range(len(spells))
        if spells.unit[i] == spells.unit[j]
        and i != j
        and spells.exit_upper[i] == spells.entry[j]
        and not spells.failed[i]
    )


def test_the_mean_of_laws_is_transformed_as_each_of_them_is() -> None:
    rng = stream(4, "mean law")
    chances = rng.beta(0.6, 8.0, 500) * rng.uniform(0.05, 1.0, 40)[:, None]
    most = 300
    mean = mean_law_by_transform(chances, most, law_by_recursion)
    assert np.abs(mean - law_by_recursion(chances, most).mean(axis=0)).max() < ERROR
    law = poisson_binomial(chances).mean(axis=0)
    np.testing.assert_allclose(CountLaw.of_draws(chances).probability, law, atol=ERROR)
