"""The likelihood ratio of many failures, counted by log odds, is that of each taken by itself."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.survival.change import ratio
from fleetstats.survival.change.ratio import FACTORS, RISES, STEP, ratio_at, ratio_by_count


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
    assert np.abs(at_once - one_by_one).max() <= len(share) * (STEP**2 / 32 + 1e-6)
    assert one_by_one.max() > 100.0


@pytest.mark.parametrize("k", [3, 40, 3000])  # of few the whole table is made, of many none
def test_at_single_numbers_the_ratio_is_that_of_the_table(k):
    rng = np.random.default_rng(k)
    share, after = rng.random((k, 80)), rng.integers(0, k + 1, (50, 80))
    table = ratio_by_count(share)
    assert np.array_equal(ratio_at(share, after), table[np.arange(80), after])
