"""Whole lives that records are worth, and the bounds that follow, worked out by hand.

Three engines at a reference of 1,000 h and shape 2: one from new to 1,000 h counts 1; one from new
to 500 h counts 0.25; one from 600 to 800 h counts 0.64 - 0.36 = 0.28. Together 1.53.

One failure known to lie between 300 and 500 h counts to 300 h: 0.09.
"""

import math

import numpy as np
import pytest
from advice_fleets import reference_fleet
from scipy.stats import chi2

from fleetstats.advice.equivalents import (
    exposure_past,
    failure_bound,
    hidden_to_break,
    hours_shown,
    life_equivalents,
    poisson_allowance,
    reporting_share,
    shape_grid,
)
from fleetstats.advice.success_run import failures_allowed, poisson_at_most, success_run
from fleetstats.core.errors import ArgumentError
from fleetstats.spells import Spells


def test_lives_add_up_as_by_hand():
    lives = Spells.of([0, 0, 600], [1000, 500, 800], [0, 0, 0])
    assert life_equivalents(lives, [1.0, 2.0], 1000.0) == pytest.approx([1.7, 1.53])
    found = Spells.of([0], [500], [1], exit_lower=[300])
    assert life_equivalents(found, 2.0, 1000.0) == pytest.approx([0.09])
    twice = lives.replace(weight=[2, 2, 2])
    assert life_equivalents(twice, 2.0, 1000.0) == pytest.approx([3.06])


def test_no_failure_at_95_percent_allows_minus_ln_0_05():
    assert poisson_allowance(0, 0.95) == pytest.approx(-math.log(0.05), rel=1e-12)
    # 20 engines all run to T: at most 1 - 0.05^(1/20) fail by T
    assert float(failure_bound(20.0, poisson_allowance(0, 0.95))) == pytest.approx(
        1 - 0.05 ** (1 / 20), rel=1e-12
    )
    assert float(failure_bound(0.0, 3.0)) == 1.0


def test_hours_shown_turn_the_bound_round():
    # at those hours the bound equals the accepted failure chance exactly
    lives = reference_fleet()
    m = poisson_allowance(0, 0.95)
    for shape in (0.7, 1.0, 3.0):
        n = float(life_equivalents(lives, shape, 1200.0)[0])
        t = 1200.0 * hours_shown(n, m, 0.95, shape=shape)
        at = float(life_equivalents(lives, shape, t)[0])
        assert float(failure_bound(at, m)) == pytest.approx(0.05, rel=1e-12)


def test_the_bound_is_the_chi_square_over_twice_the_exposure():
    # IEC 61649:2008, few failures with an assumed shape
    lives = Spells.of(
        [0, 100, 600, 0], [1000, 500, 800, 450], [0, 1, 0, 1], exit_lower=[1000, 400, 800, 450]
    )
    for shape in (0.6, 1.0, 2.7):
        power = 1000**shape + (400**shape - 100**shape) + (800**shape - 600**shape) + 450**shape
        scale = (2 * power / chi2.ppf(0.95, 2 * 2 + 2)) ** (1 / shape)
        n = life_equivalents(lives, shape, 900.0)
        mine = failure_bound(n, poisson_allowance(2, 0.95))
        assert float(mine[0]) == pytest.approx(1 - math.exp(-((900 / scale) ** shape)), rel=1e-12)


def test_any_unit_and_any_shape_stay_in_range():
    lives = Spells.of(0, np.linspace(1e6, 1e7, 50), np.zeros(50))
    small = Spells.of(0, np.linspace(1e-3, 1e-2, 50), np.zeros(50))
    for shape in (0.2, 30.0):
        a = life_equivalents(lives, shape, 5e6)
        b = life_equivalents(small, shape, 5e-3)
        assert np.isfinite(a).all()
        assert a == pytest.approx(b, rel=1e-9)


def test_hidden_failures_and_reporting_share_break_where_the_bound_passes():
    n = 60.0
    k = hidden_to_break(n, 0, 0.95, 0.10)
    assert float(failure_bound(n, poisson_allowance(k, 0.95))) > 0.10
    assert float(failure_bound(n, poisson_allowance(k - 1, 0.95))) <= 0.10
    q = reporting_share(n, 0, 0.95, 0.10)
    # with a share q reported the bound of the hazard is m / q, just at the accepted chance
    assert 1 - math.exp(-poisson_allowance(0, 0.95) / q / n) == pytest.approx(0.10, rel=1e-12)
    assert hidden_to_break(1.0, 0, 0.95, 0.10) == 0


def test_failures_allowed_is_one_less_than_the_breaking_number():
    assert failures_allowed(60.0, 0, 0.95, 0.10) == hidden_to_break(60.0, 0, 0.95, 0.10) - 1
    assert failures_allowed(1.0, 0, 0.95, 0.10) is None


def test_grid_of_shapes_holds_its_own_points_and_ends():
    grid = shape_grid((1.0, 2.0, 3.0))
    assert {1.0, 2.0, 3.0} <= set(grid.tolist())
    assert grid[0] == 1.0
    assert grid[-1] == 3.0
    assert len(shape_grid((2.0,))) == 1


def test_hours_past_an_age_count_only_what_was_watched():
    lives = Spells.of([0, 0, 1300], [1000, 1500, 1700], [0, 0, 0])
    assert exposure_past(lives, 1200.0) == 300.0 + 400.0


def test_success_run_with_failures_is_the_exact_binomial():
    # smallest n with at most 1 failure showing R 0.90 at 90 %: n = 38 (ISO 16269-6 style tables,
    # from memory); checked here against the tail itself
    from scipy.special import bdtr

    n = success_run(0.90, 0.90, failures=1)
    assert n == 38
    assert bdtr(1, n, 0.1) <= 0.1 < bdtr(1, n - 1, 0.1)
    # with other ages the Poisson bound stands in, with the failed engine adding nothing
    assert success_run(0.90, 0.90, failures=1, run_share=1.0 + 1e-9, shape=2.0) == n


def test_chance_of_counts():
    assert float(poisson_at_most(0, 2.0)) == pytest.approx(math.exp(-2.0))
    assert float(poisson_at_most(1, 2.0)) == pytest.approx(3.0 * math.exp(-2.0))
    assert float(poisson_at_most(-1, 2.0)) == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"reliability": 1.0, "confidence": 0.9},
        {"reliability": 0.9, "confidence": 0.0},
        {"reliability": 0.9, "confidence": 0.9, "failures": -1},
        {"reliability": 0.9, "confidence": 0.9, "run_share": 0.0},
    ],
)
def test_impossible_plans_are_refused(wrong):
    with pytest.raises(ArgumentError):
        success_run(wrong.pop("reliability"), wrong.pop("confidence"), **wrong)
