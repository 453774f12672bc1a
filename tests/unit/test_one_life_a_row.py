"""Rows of one life each are counted by another way than weighted rows: both must say the same."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from fleetstats.core.errors import FitError
from fleetstats.core.value import is_to_come
from fleetstats.spells import Event, Spells
from fleetstats.survival.counting.incidence import estimate_incidence
from fleetstats.survival.counting.ones import (
    FEW,
    SHARED,
    STEPS_AN_HOUR,
    _by_count,
    _by_sort,
)
from fleetstats.survival.counting.product_limit import (
    count_at_risk,
    estimate_product_limit,
    first_well_populated,
)
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.partial_likelihood import partial_parts
from fleetstats.survival.regression.proportional import check_proportional, fit_proportional
from fleetstats.survival.regression.stratified import fit_stratified
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.weibull_general import covariance_at, prepare_lives

TWICE = 2.0


def lives(seed: int, *, late: bool, n: int = 60) -> Spells:
    """Return lives with ages that several share, ended in every way."""
    rng = np.random.default_rng(seed)
    entry = np.where(late & (rng.random(n) < 0.5), rng.integers(0, 300, n), 0)
    event = rng.integers(0, 4, n)
    made = Spells.of(entry, entry + rng.integers(1, 300, n), event == Event.FAILED)
    return made.replace(event=event)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(8))
def test_counts_are_those_of_the_same_lives_weighted(seed: int, late: bool) -> None:
    one = lives(seed, late=late)
    two = one.replace(weight=np.full(len(one), TWICE))
    a, b = (estimate_product_limit(x, least_at_risk=k) for x, k in ((one, 5), (two, 10)))
    assert a.start_h == b.start_h
    np.testing.assert_array_equal(a.hours, b.hours)
    np.testing.assert_array_equal(TWICE * a.at_risk, b.at_risk)
    np.testing.assert_array_equal(TWICE * a.n_failed, b.n_failed)
    np.testing.assert_allclose(a.reliability, b.reliability, rtol=1e-14)
    ages = np.concatenate([[0.0, 1e4], one.exit_upper, one.entry])
    np.testing.assert_array_equal(TWICE * one.at_risk(ages), two.at_risk(ages))
    c, d = estimate_incidence(one), estimate_incidence(two)
    assert c.labels == d.labels
    np.testing.assert_array_equal(c.hours, d.hours)
    np.testing.assert_array_equal(TWICE * c.n_ended, d.n_ended)
    np.testing.assert_array_equal(TWICE * c.at_risk, d.at_risk)
    for least in (1.0, 7.0, 25.0, 1000.0):
        assert first_well_populated(one, least) == first_well_populated(two, TWICE * least)


@pytest.mark.parametrize("per_h", STEPS_AN_HOUR)
@pytest.mark.parametrize("late", [False, True])
def test_lives_that_share_a_step_are_counted_as_they_are_sorted(per_h: float, late: bool) -> None:
    rng = np.random.default_rng(int(per_h))
    n = 2 * FEW
    entry = np.where(late & (rng.random(n) < 0.5), rng.integers(0, 90, n), 0) / per_h
    end = entry + rng.integers(1, n // SHARED - 90, n) / per_h
    end = np.rint(end * per_h) / per_h
    failed = rng.random(n) < 0.5
    counted = _by_count(end, failed)
    assert counted is not None
    for a, b in zip(counted, _by_sort(end, failed), strict=True):
        np.testing.assert_array_equal(a, b)
    one = Spells.of(entry, end, failed)
    a, b = (count_at_risk(x, start_h=20 / per_h) for x in (one, one.replace(weight=[TWICE] * n)))
    np.testing.assert_array_equal(a.hours, b.hours)
    np.testing.assert_array_equal(TWICE * a.at_risk, b.at_risk)
    np.testing.assert_array_equal(TWICE * a.n_failed, b.n_failed)


@pytest.mark.parametrize("odd", [0.1 + 0.2, 1 / 3, 7.0 * (1 + 2**-52), 1e9])
def test_one_age_that_is_no_step_has_all_of_them_sorted(odd: float) -> None:
    n = 2 * FEW
    end = np.arange(1.0, n + 1) % 50 + 1
    failed = np.arange(n) % 2 == 0
    assert _by_count(end, failed) is not None
    end[FEW + 5], failed[FEW + 5] = odd, True
    assert _by_count(end, failed) is None
    assert odd in count_at_risk(Spells.of(0, end, failed)).hours


def test_columns_that_nobody_gave_hold_one_number_and_can_be_had_as_others() -> None:
    one = Spells.of(0, [3.0, 4.0], True)
    for name, usual in (("weight", 1.0), ("assumed_h", 0.0), ("clock_sd", np.nan)):
        column = getattr(one, name)
        assert column.strides == (0,)
        assert not column.flags.writeable
        np.testing.assert_array_equal(column, [usual, usual])
    assert pickle.loads(pickle.dumps(one)) == one
    assert one.join(one).select([0, 3]).weight.tolist() == [1.0, 1.0]


def test_endings_told_in_words_are_counted_as_those_told_by_event() -> None:
    one = lives(3, late=True)
    words = np.array(["", "failed", "failed from another cause", "removed on a finding"])
    assert estimate_incidence(one) == estimate_incidence(one, words[one.event])


@pytest.mark.parametrize("late", [False, True])
def test_covariance_is_that_of_the_likelihood_itself(late: bool) -> None:
    """The inverse of the observed information, from the general likelihood's second derivatives."""
    spells = lives(1, late=late)
    fit = fit_weibull(spells)
    general = prepare_lives(
        spells.entry, spells.exit_lower, spells.exit_upper, spells.failed, spells.weight
    )
    level = fit.shape * (math.log(general.reference_h) - math.log(fit.scale_h))
    np.testing.assert_allclose(fit.covariance, covariance_at(general, fit.shape, level), rtol=1e-10)


def test_names_of_lives_are_made_when_asked_for() -> None:
    spells = Spells.of(0, [100, 200, 300], [1, 0, 1])
    assert is_to_come(spells, "unit")
    fit_weibull(spells)
    estimate_product_limit(spells)
    cut = spells.replace(weight=[1.0, 2.0, 1.0])
    assert is_to_come(spells, "unit")
    assert is_to_come(cut, "unit")
    assert pickle.loads(pickle.dumps(cut)) == cut
    assert spells.unit.tolist() == ["u1", "u2", "u3"] == cut.unit.tolist()
    assert not spells.unit.flags.writeable
    assert spells.select([0, 2]).unit.tolist() == ["u1", "u3"]


def test_columns_given_are_copied_however_lives_are_made_from_lives() -> None:
    end = np.array([100.0, 200.0])
    spells = Spells.of(0, end, [1, 0])
    moved = spells.replace(exit_lower=end, exit_upper=end)
    end[:] = 5.0
    assert spells.exit_upper.tolist() == [100.0, 200.0] == spells.exit_lower.tolist()
    assert moved.exit_upper.tolist() == [100.0, 200.0]


def _parts_by_hand(
    lives_: Spells, x: np.ndarray, coef: np.ndarray, ties: str
) -> tuple[float, np.ndarray, np.ndarray]:
    """Return the partial likelihood failure by failure (Efron 1977, Breslow 1974)."""
    k = x.shape[1]
    value, slope, information = 0.0, np.zeros(k), np.zeros((k, k))
    risk = lives_.weight * np.exp(x @ coef)
    for age in np.unique(lives_.exit_upper[lives_.failed]):
        at_risk = (lives_.entry < age) & (age <= lives_.exit_upper)
        dead = lives_.failed & (lives_.exit_upper == age)
        many, weight = int(dead.sum()), lives_.weight[dead].mean()
        value += float(lives_.weight[dead] @ (x[dead] @ coef))
        slope += lives_.weight[dead] @ x[dead]
        for j in range(many):
            r = risk * at_risk - (j / many if ties == "efron" else 0.0) * risk * dead
            mean = r @ x / r.sum()
            value -= weight * math.log(r.sum())
            slope -= weight * mean
            information += weight * ((x * r[:, None]).T @ x / r.sum() - np.outer(mean, mean))
    return value, slope, information


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("late", [False, True])
def test_partial_likelihood_is_the_sum_over_failures(ties: str, late: bool) -> None:
    spells = lives(2, late=late)
    rng = np.random.default_rng(5)
    spells = spells.replace(
        exit_lower=np.ceil(spells.exit_upper / 50) * 50,
        exit_upper=np.ceil(spells.exit_upper / 50) * 50,
        weight=rng.integers(1, 4, len(spells)).astype(float),
    )
    x = rng.normal(size=(len(spells), 2))
    coef = np.array([0.4, -0.3])
    for got, want in zip(
        partial_parts(spells, x, coef, ties), _parts_by_hand(spells, x, coef, ties), strict=True
    ):
        np.testing.assert_allclose(got, want, rtol=1e-11, atol=1e-11)


def test_proportional_says_that_there_is_no_maximum_where_one_value_always_fails_first() -> None:
    spells = Spells.of(0, np.arange(1, 41) * 25.0, np.ones(40, dtype=bool))
    for x in (-np.arange(40.0), np.repeat([1.0, 0.0], 20)):
        with pytest.raises(FitError, match="no maximum"):
            fit_proportional(spells, build_covariates(spells, {"x": x}))
    strata = np.arange(40) % 2
    mine = build_covariates(spells, {"x": -np.arange(40.0)})
    with pytest.raises(FitError, match="no maximum"):
        fit_stratified(spells, mine, strata.astype(str))


def test_strata_of_one_are_no_strata() -> None:
    """One climb serves both; with one stratum the two ask the same question."""
    rng = np.random.default_rng(8)
    spells = Spells.of(0, rng.weibull(2.0, 60) * 1000.0, rng.random(60) < 0.5)
    mine = build_covariates(spells, {"x": rng.normal(size=60), "y": rng.normal(size=60)})
    whole = fit_proportional(spells, mine, limits="profile")
    apart = fit_stratified(spells, mine, ["all"] * 60, limits="profile")
    assert apart.log_likelihood == pytest.approx(whole.log_likelihood, rel=1e-12)
    for one, other in zip(apart.ratios, whole.ratios, strict=True):
        for name in ("ratio", "low", "high", "std_error"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9)


def test_check_of_proportionality_finds_an_effect_that_turns() -> None:
    rng = np.random.default_rng(7)
    x = np.repeat([0.0, 1.0], 300)
    life = 1000.0 * rng.exponential(size=600) ** (1.0 / np.where(x > 0, 3.0, 1.0))
    spells = Spells.of(0, life, np.ones(600, dtype=bool))
    covariates = build_covariates(spells, {"x": x})
    coef = np.array([r.coef for r in fit_proportional(spells, covariates).ratios])
    assert check_proportional(spells, covariates.values, coef)[1] < 1e-6
