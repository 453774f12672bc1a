"""Ranks at any level."""

from __future__ import annotations

import pytest

from fleetstats.core.errors import ArgumentError
from fleetstats.spells import Spells
from fleetstats.survival.counting.plotting import estimate_median_ranks
from fleetstats.survival.counting.rank_limits import estimate_rank_limits


def test_ranks_of_ten_are_those_of_the_table() -> None:
    # common tables of ranks for n = 10, from memory: 5 %, median and 95 % of the first failure
    ranks = estimate_rank_limits(Spells.of(0, range(100, 1100, 100), [1] * 10), level=0.90)
    first = (ranks.low[0], ranks.estimate[0], ranks.high[0])
    assert first == pytest.approx((0.0051, 0.0670, 0.2589), abs=5e-5)
    # the first of n in closed form: 1 - (1 - p)^(1/n); the last is its mirror
    assert first == pytest.approx([1 - (1 - p) ** 0.1 for p in (0.05, 0.5, 0.95)], rel=1e-10)
    assert ranks.high[-1] == pytest.approx(1 - ranks.low[0])


def test_limits_are_those_of_a_binomial_share() -> None:
    # Clopper & Pearson (1934) by statsmodels: 3 of 10 from below, 2 of 10 from above
    from statsmodels.stats.proportion import proportion_confint

    ranks = estimate_rank_limits(Spells.of(0, range(100, 1100, 100), [1] * 10), level=0.80)
    assert ranks.low[2] == pytest.approx(proportion_confint(3, 10, 0.2, "beta")[0], abs=1e-10)
    assert ranks.high[2] == pytest.approx(proportion_confint(2, 10, 0.2, "beta")[1], abs=1e-10)


def test_running_lives_move_ranks_as_they_move_medians() -> None:
    lives = Spells.of(0, [100, 200, 300, 400], [1, 0, 1, 1])
    ranks = estimate_rank_limits(lives)
    middle = estimate_median_ranks(lives)
    assert ranks.rank.tolist() == middle.rank.tolist()
    assert ranks.estimate.tolist() == middle.failure_probability.tolist()


def test_wrong_levels_are_refused() -> None:
    with pytest.raises(ArgumentError, match="level = 90"):
        estimate_rank_limits(Spells.of(0, [100, 200], [1, 1]), level=90)
