"""The likelihood ratio of many failures, counted by log odds, is that of each taken by itself."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.survival.change import ratio
from fleetstats.survival.change.ratio import (
    ERROR,
    FACTORS,
    RISES,
    ratio_at,
    ratio_by_count,
    sums_of_months,
)
from fleetstats.survival.change.shares import MonthShares


@pytest.mark.parametrize("factors", [FACTORS, RISES])
def test_many_at_once_are_told_as_one_by_one(monkeypatch, factors):
    rng = np.random.default_rng(8)
    share = np.column_stack([
        rng.random(300), rng.beta(0.05, 2.0, 300), 1.0 - rng.beta(0.05, 2.0, 300),
        (rng.random(300) < 0.5).astype(float), np.full(300, 0.25),
    ])  # fmt: skip
    one_by_one = ratio_by_count(share, factors)
    monkeypatch.setattr(ratio, "MOST_SHARES", 0)
    at_once = ratio_by_count(share, factors)
    assert np.abs(at_once - one_by_one).max() <= len(share) * (ERROR + 1e-6)
    assert one_by_one.max() > 100.0


@pytest.mark.parametrize("k", [3, 40, 3000])  # of few the whole table is made, of many none
def test_at_single_numbers_the_ratio_is_that_of_the_table(k):
    rng = np.random.default_rng(k)
    share, after = rng.random((k, 80)), rng.integers(0, k + 1, (50, 80))
    table = ratio_by_count(share)
    assert np.array_equal(ratio_at(share, after), table[np.arange(80), after])


@pytest.mark.parametrize("order", ["C", "F"])  # a month, or a failure, in one piece
def test_what_is_counted_of_months_is_summed_as_failure_by_failure(monkeypatch, order):
    rng = np.random.default_rng(4)
    share = rng.dirichlet(np.full(7, 0.3), 500)
    shares = MonthShares(
        edge_day=np.arange(8.0), month=rng.integers(0, 7, 500), share=np.asarray(share, order=order)
    )
    one_by_one = sums_of_months(shares, RISES)
    late = np.array([share[:, i:].sum(axis=1) for i in range(1, 7)])
    direct = np.log1p(late[:, :, None] * (RISES - 1.0)).sum(axis=1)
    np.testing.assert_allclose(one_by_one, direct, rtol=1e-11)
    some = shares.select(np.arange(500) % 3 == 0)
    assert np.array_equal(some.share, share[::3])
    monkeypatch.setattr(ratio, "MOST_SHARES", 0)
    for factors in (RISES, FACTORS):  # what is counted once serves any factors
        told = sums_of_months(shares, factors)
        direct = np.log1p(late[:, :, None] * (factors - 1.0)).sum(axis=1)
        assert 0.0 < np.abs(told - direct).max() <= 500 * (ERROR + 1e-6)
