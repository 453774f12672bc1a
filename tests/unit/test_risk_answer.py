"""Answer (b): the age at which the chance before the next check first exceeds the target."""

import math

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.equivalents import life_equivalents, poisson_allowance
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import (
    LISTED_TARGETS,
    advise_risk,
    chance_curve,
)
from fleetstats.bands.crossing import first_ages
from fleetstats.survival.weibull.fit_weibull import try_fit


def risk(fleet, target=0.005, **tables):
    settings = made_settings(targets={"risk_per_check": target}, **tables)
    return advise_risk(Quoter.of(fleet, try_fit(fleet), settings), fleet.horizon_h())


def test_crossings_are_found_and_ends_are_told_apart():
    def first(*targets, curve=lambda x: x**2):
        goal = np.array(targets)
        return first_ages(lambda t, i: curve(t / 1000.0) - goal[i], len(goal), 3000.0)

    # below the least age of the grid above 0, within it, and never
    got = first(1e-7, 0.02, 9.5)
    assert got[:2] == pytest.approx([1000.0 * math.sqrt(1e-7), 1000.0 * math.sqrt(0.02)], rel=1e-8)
    assert got[2] is None
    assert first(0.04, curve=lambda x: x**2 + 0.05) == [0.0]
    # where the chance falls before it rises
    (late,) = first(0.5, curve=lambda x: (x - 0.5) ** 2)
    assert late == pytest.approx(1000.0 * (0.5 + math.sqrt(0.5)), rel=1e-8)
    assert first(0.2, curve=lambda x: (x - 0.5) ** 2) == [0.0]


@pytest.mark.parametrize("method", ["auto", "profile"])
@pytest.mark.parametrize("scale_h", [2500.0, 9000.0])
def test_at_each_edge_the_curve_meets_the_target(method, scale_h):
    # the ages are found without computing the curve; with few failures only the careful one is
    fleet = made_fleet(scale_h=scale_h, seed=3)
    settings = made_settings(targets={"risk_per_check": 0.003}, evidence={"method": method})
    lives = Quoter.of(fleet, try_fit(fleet), settings)
    age = advise_risk(lives, fleet.horizon_h()).chosen.age
    pairs = [("low", "high")]
    if not lives.few:
        pairs += [("estimate", "estimate"), ("high", "low")]
    for edge, curve in pairs:
        at = chance_curve(lives, np.array([getattr(age, edge)]))
        assert float(getattr(at, curve)[0]) == pytest.approx(0.003, rel=1e-6), edge


def test_estimate_is_where_the_fitted_chance_meets_the_target():
    fleet = made_fleet()
    fit = try_fit(fleet)
    age = risk(fleet).chosen.age
    assert float(fit.conditional_failure(age.estimate, 50.0)) == pytest.approx(0.005, rel=1e-6)
    assert age.low < age.estimate < age.high


def test_no_target_gives_a_table_and_no_single_age():
    answer = risk(made_fleet(), target=None)
    assert answer.state == "no-target"
    assert answer.chosen is None
    assert [t.target for t in answer.table] == list(LISTED_TARGETS)
    lows = [t.age.low for t in answer.table if t.age.low is not None]
    assert lows == sorted(lows)
    assert "no authority sets one" in answer.sentence


def test_zero_failures_have_a_pessimistic_edge_only():
    answer = risk(reference_fleet())
    assert answer.chosen.age.low > 0
    assert answer.chosen.age.estimate is None
    assert answer.chosen.age.high is None
    # the least favourable of the assumed shapes can only be later than the quoted edge
    known = [s.low_h for s in answer.over_shapes if s.low_h is not None]
    assert answer.chosen.age.low <= min(known) + 1e-3


def test_without_a_failure_the_upper_edge_is_that_of_the_least_favourable_shape():
    # the range is worst at its ends or within; shapes past it can only make the edge more careful
    fleet, settings = reference_fleet(), made_settings()
    hours = np.linspace(0.0, 3000.0, 13)
    edge = chance_curve(Quoter.of(fleet, None, settings), hours).high
    x, w = hours[:, None] / 1000.0, 0.05
    shapes = np.linspace(1.0, 4.0, 400)
    rate = poisson_allowance(0, 0.95) / life_equivalents(fleet, shapes, 1000.0)
    known = -np.expm1(-(rate * ((x + w) ** shapes - x**shapes)).max(axis=1))
    assert (edge >= known * (1.0 - 1e-4)).all()
    assert edge[5] == pytest.approx(known[5], rel=0.25)


def test_known_shape_age_by_hand():
    # shape 2: (x + w)^2 - x^2 = 2 x w + w^2, so x = (need - w^2) / (2 w)
    fleet = reference_fleet()
    (line,) = risk(fleet, evidence={"shapes": (2.0,)}).over_shapes
    n = float(life_equivalents(fleet, 2.0, 1000.0)[0])
    need = -np.log1p(-0.005) * n / poisson_allowance(0, 0.95)
    w = 0.05
    assert line.low_h == pytest.approx(1000.0 * (need - w * w) / (2 * w), rel=1e-9)
    assert line.least_favourable


def test_constant_or_falling_risk_has_no_age():
    fleet = made_fleet(shape=0.6, scale_h=30_000, seed=3)
    answer = risk(fleet)
    assert answer.state == "hours-do-not-tell"
    assert "does not rise with hours" in answer.sentence


def test_ages_beyond_the_evidence_are_marked():
    answer = risk(made_fleet(n=1500, scale_h=3000, seed=5, most_h=900.0), target=0.02)
    marks = answer.chosen.extrapolated
    assert marks[1]
    assert "extrapolation" in answer.sentence


def test_wider_check_interval_is_never_later():
    ages = []
    for width in (25.0, 50.0, 100.0):
        settings = made_settings(targets={"risk_per_check": 0.01}, check={"interval_h": width})
        ages.append(advise_hours(made_fleet(), try_fit(made_fleet()), settings).risk.chosen.age.low)
    assert ages == sorted(ages, reverse=True)
