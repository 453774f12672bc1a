"""Answer (a): the states of wear-out, and the test of shape = 1 by a second road."""

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet
from cases_support import expected, spells

from fleetstats.advice.quoted import Quoter
from fleetstats.advice.wear_out import (
    advise_wear_out,
    compare_with_shape_one,
    failures_to_settle,
)
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit


def answer(fleet, **settings):
    return advise_wear_out(Quoter.of(fleet, try_fit(fleet), made_settings(**settings)))


def test_bearing_cage_likelihood_ratio():
    # R's survreg gives -76.4368964 for the Weibull and -78.2267868 for the exponential
    want = expected("bearing-cage")
    fleet = spells("bearing_cage")
    statistic, p = compare_with_shape_one(fleet, try_fit(fleet))
    ratio = 2 * (want["loglik"] - want["exponential_loglik"])
    assert statistic == pytest.approx(ratio, rel=1e-6)
    from scipy.stats import chi2

    assert p == pytest.approx(chi2.sf(ratio, 1), rel=1e-6)


def test_rising_falling_and_untold_risk():
    up = answer(made_fleet(shape=2.5))
    assert up.state == "wear-out"
    assert up.shape.low > 1
    assert up.failures_needed is None
    assert up.settle == ""
    assert "show wear-out" in up.sentence
    down = answer(made_fleet(shape=0.6, scale_h=30_000, seed=3))
    assert down.state == "no-wear-out"
    assert down.shape.high < 1
    flat = answer(made_fleet(shape=1.0, scale_h=9000, seed=2))
    assert flat.state == "not-shown"
    assert "a fixed overhaul age is not supported by these data" in flat.sentence
    assert flat.failures_needed > flat.shape.estimate
    assert "further engine hours" in flat.settle


def test_no_failures_and_few_are_not_enough():
    none = answer(reference_fleet())
    assert none.state == "not-enough-evidence"
    assert none.shape is None
    assert none.p_value is None
    few = answer(made_fleet(scale_h=9000, seed=3))
    assert few.state == "not-enough-evidence"
    assert few.shape is not None
    assert "too few" in few.sentence


def test_failures_to_settle_by_hand():
    # no fit: shape 2, variance of log shape 1 / r, 95 % one-sided: (1.645 / ln 2)^2 = 5.63
    assert failures_to_settle(None, 0.90) == 6
    # at 99 % one-sided: (2.326 / ln 2)^2 = 11.3
    assert failures_to_settle(None, 0.98) == 12


def test_failures_to_settle_is_about_right_in_made_fleets():
    # with the number said to be needed, the lower edge is above 1 in about half of fleets
    shown = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        life = 9000.0 * rng.exponential(size=400) ** (1 / 2.0)
        stop = rng.uniform(50.0, 1950.0, 400)
        fleet = Spells.of(0, np.minimum(life, stop), life <= stop)
        if 4 < fleet.n_failed < 10:
            shown.append(answer(fleet).state == "wear-out")
    assert len(shown) > 15
    assert 0.25 < np.mean(shown) < 0.85  # 6 of them expected; half is 0.5, 3 standard errors wide
