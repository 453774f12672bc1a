"""The bound by products of beta variables: against exact limits, simulated products and by hand."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy.stats import binomtest

from fleetstats.bands.product_bound import ProductBound
from fleetstats.spells import Spells

LEVEL = 0.95


def high(spells: Spells, hours: float, *, added: float = 0.0) -> float:
    bound = ProductBound.of(spells, least=1)
    return float(bound.failure_high(np.array([hours]), np.array([LEVEL]), added=added)[0])


@pytest.mark.parametrize("k", [0, 1, 2, 5])
def test_without_censoring_it_is_the_exact_binomial_limit(k: int) -> None:
    """Clopper & Pearson 1934, by scipy's `binomtest`: one-sided 95 % is two-sided 90 %."""
    stop = np.concatenate([100.0 * np.arange(1, k + 1), np.full(30 - k, 1000.0)])
    s = Spells.of(0.0, stop, np.arange(30) < k)
    exact = binomtest(k, 30).proportion_ci(confidence_level=0.90, method="exact").high
    assert high(s, 800.0) == pytest.approx(exact, rel=1e-9)
    assert high(s, 1000.0) == pytest.approx(exact, rel=1e-9)
    assert high(s, 1001.0) == 1.0


def test_failures_at_one_age_count_as_one_after_another() -> None:
    """Common practice: ties are failures in a row."""
    tied = Spells.of(0.0, [300.0] * 3 + [1000.0] * 20, [1] * 3 + [0] * 20)
    apart = Spells.of(0.0, [300.0, 301.0, 302.0] + [1000.0] * 20, [1] * 3 + [0] * 20)
    assert high(tied, 500.0) == pytest.approx(high(apart, 500.0), rel=1e-9)


def test_past_more_failures_than_engines_nothing_is_bounded_and_nothing_warns() -> None:
    """As when failures that no life counts are of ages that few engines reached."""
    ages = np.array([100.0, 200.0, 300.0, 400.0])
    for at_risk, failed in (([5.0, -1.0, 4.0, 4.0], [1, 2, 0, 0]), ([5, -3, 4, 4], [1, 1, 1, 0])):
        counts = np.array(at_risk, dtype=float), np.array(failed, dtype=float)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            bound = ProductBound._of_counts(0.0, ages, *counts)
            asked = np.array([150.0, 250.0, 350.0])
            assert bound.failure_high(asked, np.full(3, LEVEL)).tolist()[1:] == [1.0, 1.0]
            assert bound.greatest(asked, LEVEL) == 1.0


def test_with_withdrawn_and_late_engines_it_is_the_product_simulated() -> None:
    """Fay, Brittain & Proschan 2013: quantile of Beta(n, 1) for each failure and the last group."""
    rng = np.random.default_rng(5)
    entry = np.where(np.arange(60) % 3 == 0, rng.uniform(0.0, 200.0, 60), 0.0)
    stop = rng.uniform(300.0, 1500.0, 60)
    s = Spells.of(entry, stop, np.arange(60) % 6 == 0)
    ages = np.sort(stop[(np.arange(60) % 6 == 0) & (stop <= 1000.0)])
    steps = np.concatenate([entry[entry > 0.0], stop, [1000.0]])
    counts, low = [], 0.0
    for age in [*ages, 1000.0]:
        met = steps[(steps > low) & (steps <= age)]
        counts.append(min(float(((entry < t) & (stop >= t)).sum()) for t in met))
        low = age
    product = np.prod(rng.beta(np.array(counts), 1.0, (400_000, len(counts))), axis=1)
    assert high(s, 1000.0) == pytest.approx(1.0 - np.quantile(product, 0.05), rel=0.01)


def test_one_failure_more_never_betters_it_and_hours_never_worsen_it() -> None:
    rng = np.random.default_rng(9)
    for _ in range(200):
        n = int(rng.integers(10, 60))
        entry = np.where(rng.random(n) < 0.3, rng.uniform(0.0, 500.0, n), 0.0)
        stop = entry + rng.uniform(10.0, 1000.0, n)
        failed = rng.random(n) < 0.3
        failed[0] = False
        before = Spells.of(entry, stop, failed)
        worse = Spells.of(entry, stop, failed | (np.arange(n) == 0))
        longer = Spells.of(entry, stop + np.where(np.arange(n) == 0, 300.0, 0.0), failed)
        for age in (stop[0], stop[0] + 50.0, stop[0] + 200.0):
            assert high(worse, age) >= high(before, age) - 1e-9
            assert high(longer, age) <= high(before, age) + 1e-9
        assert high(before, age, added=1.0) >= high(before, age)


def test_it_holds_whatever_the_law() -> None:
    """A weak share, four in ten heard of late: 95 % asked, three binomial errors of 400 fleets."""
    rng = np.random.default_rng(3)
    weak = 0.1 * np.exp(-((900.0 / 500.0) ** 3)) + 0.9 * np.exp(-((900.0 / 3000.0) ** 4))
    held = 0
    for _ in range(400):
        scale, shape = np.where(rng.random(300) < 0.1, 500.0, 3000.0), 3.0
        shape = np.where(scale == 500.0, 3.0, 4.0)
        life = scale * rng.standard_exponential(300) ** (1.0 / shape)
        entry = np.where(rng.random(300) < 0.4, rng.uniform(0.0, 400.0, 300), 0.0)
        stop = entry + rng.uniform(100.0, 1500.0, 300)
        seen = life > entry
        s = Spells.of(entry[seen], np.minimum(life, stop)[seen], (life <= stop)[seen])
        held += high(s, 900.0) >= 1.0 - weak
    assert held / 400 >= 0.95 - 3.0 * np.sqrt(0.95 * 0.05 / 400)
