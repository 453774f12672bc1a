"""Tests of removals and sources against other libraries and against counting by hand."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fleetstats.core.errors import FitError
from fleetstats.spells import Event, Spells
from fleetstats.spells.scenarios import count_only
from fleetstats.survival.counting.ageing import estimate_ageing
from fleetstats.survival.counting.leaving import chance_of_ranks
from fleetstats.survival.groups import equal_ages
from fleetstats.survival.groups.equal_ages import chances, compare_equal_ages
from fleetstats.survival.groups.rate_ratio import hold_over


def lives(seed: int = 4, n: int = 120) -> Spells:
    """Return late-entering lives with about a third of them failed."""
    rng = np.random.default_rng(seed)
    age, stop = 1300.0 * rng.weibull(2.0, n), rng.uniform(300.0, 1500.0, n)
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0.0, 250.0, n), 0.0)
    end = np.minimum(age, stop)
    seen = end > entry
    return Spells.of(entry[seen], end[seen], (age < stop)[seen])


# -- ages of removals ------------------------------------------------------------------------------


def test_the_shape_of_one_group_is_that_of_the_weibull_fit() -> None:
    """Given their number or not, the ages have one likelihood in the shape (Crow 1974)."""
    from fleetstats.survival.weibull.fit_weibull import fit_weibull

    s = lives()
    assert estimate_ageing(s).shape == pytest.approx(fit_weibull(s).shape, rel=1e-6)


def test_the_shape_of_groups_is_that_of_weibull_regression() -> None:
    """Own scales, one shape: maximum of the likelihood with a scale each (lifelines' fitter needs
    no more than a dummy, but no late entry in groups; so the likelihood is written out with scipy).
    """
    from scipy import optimize

    s = lives()
    group = np.arange(len(s)) % 3

    def minus(x):
        b, log_rate = x[0], x[1:][group]
        log_hazard = log_rate + np.log(b) + (b - 1.0) * np.log(s.exit_upper / 1000.0)
        total = np.exp(log_rate) * ((s.exit_upper / 1000.0) ** b - (s.entry / 1000.0) ** b)
        return -(log_hazard[s.failed].sum() - total.sum())

    want = optimize.minimize(minus, [1.5, 0.0, 0.0, 0.0], method="Nelder-Mead",
                             options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 8000})  # fmt: skip
    assert estimate_ageing(s, group.astype(str)).shape == pytest.approx(want.x[0], rel=1e-5)


@pytest.mark.parametrize("n", [2, 3, 5, 12])
def test_the_chance_is_that_of_uniform_ages(n: int) -> None:
    """Watched in full to one age, random ages are uniform and -2 S is chi-squared with 2n degrees.

    scipy's gamma tail; the error of r* is of the third order, below 1 % of the chance from 2 on.
    """
    from scipy import stats

    for q in (0.3, 0.6, 0.8, 0.95):
        ages = 1000.0 * np.linspace(q - 0.1, min(q + 0.05, 0.999), n)
        # 100,000 engines run on, so that the events take nothing from the hours watched
        weight = np.concatenate([np.ones(n), [1e7]])
        s = Spells.of(0.0, [*ages, 1000.0], [True] * n + [False], weight=weight)
        want = stats.gamma.cdf(-np.log(ages / 1000.0).sum(), n)
        assert estimate_ageing(s).p_rising == pytest.approx(want, rel=0.01)


def test_a_weight_is_so_many_equal_lives() -> None:
    s = lives()
    twice = s.join(s)
    assert estimate_ageing(s.replace(weight=np.full(len(s), 2.0))) == estimate_ageing(twice)


def test_ages_are_not_asked_of_nothing() -> None:
    with pytest.raises(FitError, match="no event"):
        estimate_ageing(Spells.of(0.0, [5.0], [False]))


def test_one_kind_alone_is_counted() -> None:
    s = Spells.of(0.0, [5.0, 6.0, 7.0], [Event.FAILED, Event.CENSORED, Event.COMPETING],
                  exit_lower=[3.0, 6.0, 7.0])  # fmt: skip
    only = count_only(s, np.array([False, False, True]))
    assert only.failed.tolist() == [False, False, True]
    assert only.exit_upper.tolist() == [4.0, 6.0, 7.0]


# -- sources ---------------------------------------------------------------------------------------


def test_expected_failures_are_those_of_the_log_rank_test() -> None:
    """statsmodels' survdiff, with late entry: its statistic is (seen - expected)^2 / variance."""
    from statsmodels.duration.survfunc import survdiff

    s = lives()
    mine = np.arange(len(s)) % 4 == 0
    got = compare_equal_ages(s, mine)
    stat, _ = survdiff(s.exit_upper, s.failed.astype(int), mine.astype(int), entry=s.entry)
    draws = equal_ages.compare_equal_ages(s, ~mine)
    assert got.shared + draws.shared == pytest.approx(s.n_failed)
    at = [(s.entry < t) & (t <= s.exit_upper) for t in s.exit_upper[s.failed]]
    p = np.array([mine[a].sum() / a.sum() for a in at])
    assert got.shared == pytest.approx(p.sum())
    assert (got.n - got.shared) ** 2 / (p * (1 - p)).sum() == pytest.approx(stat, rel=1e-9)


def test_the_ratio_is_that_of_proportional_hazards() -> None:
    """statsmodels' fitter with late entry and one yes-or-no factor."""
    from statsmodels.duration.hazard_regression import PHReg

    s = lives()
    mine = np.arange(len(s)) % 4 == 0
    fit = PHReg(s.exit_upper, mine.astype(float), status=s.failed, entry=s.entry).fit()
    want = float(np.exp(fit.params[0]))
    assert compare_equal_ages(s, mine).ratio == pytest.approx(want, rel=1e-6)


def test_equal_shares_are_a_binomial_with_exact_limits() -> None:
    """scipy's binomial test and its exact limits, where many engines of one age run on."""
    from scipy.stats import binomtest

    n = 12
    s = Spells.of(0.0, [*range(100, 100 + n), 1000.0, 1000.0], [True] * n + [False] * 2,
                  weight=[1.0] * n + [2e7, 3e7])  # fmt: skip
    mine = np.array([True] * 3 + [False] * 9 + [True, False])
    got = compare_equal_ages(s, mine, level=0.90)
    test = binomtest(3, n, 0.4, alternative="less")
    assert got.p_fewer == pytest.approx(test.pvalue, rel=1e-5)
    limits = binomtest(3, n).proportion_ci(0.90, method="exact")
    odds = 2.0 / 3.0
    assert got.low == pytest.approx(limits.low / (1 - limits.low) / odds, rel=1e-5)
    assert got.high == pytest.approx(limits.high / (1 - limits.high) / odds, rel=1e-5)


def test_chances_of_unequal_draws_by_going_through_all() -> None:
    share = [0.1, 0.5, 0.8, 0.35]
    want = np.zeros(5)
    for yes in itertools.product((0, 1), repeat=4):
        want[sum(yes)] += np.prod([p if y else 1 - p for p, y in zip(share, yes, strict=True)])
    np.testing.assert_allclose(chances(share, [1, 1, 1, 1]), want, rtol=1e-12)


def test_the_normal_curve_of_many_failures_is_near_the_exact_chance(monkeypatch) -> None:
    """Volkova (1996): error of order 1 / n; half a percent of the chance scale at 200."""
    s = lives(n=700)
    mine = np.arange(len(s)) % 9 == 0
    exact = compare_equal_ages(s, mine)
    monkeypatch.setattr(equal_ages, "EXACT_TO", 10.0)
    near = compare_equal_ages(s, mine)
    assert near.p_fewer == pytest.approx(exact.p_fewer, abs=0.005)
    assert near.high == pytest.approx(exact.high, rel=0.01)


def test_ages_that_one_side_alone_reached_tell_nothing() -> None:
    s = Spells.of(0.0, [900.0, 950.0, 980.0, 300.0], [True, True, True, False])
    got = compare_equal_ages(s, [True, True, True, False])
    assert (got.n, got.n_compared, got.ratio, got.p_more) == (3.0, 0.0, None, 1.0)
    assert got.expected == 0.0


def test_ranks_of_leavers_by_going_through_all() -> None:
    """And from 61 on the normal curve, with scipy's tail."""
    from scipy import stats

    sums = [a + b + c for a, b, c in itertools.product(range(1, 6), range(1, 5), range(1, 3))]
    want = np.mean([x >= 8 for x in sums])
    assert chance_of_ranks([5, 2, 1], [5, 4, 2]) == pytest.approx(want)
    many = chance_of_ranks([20] * 70, [30] * 70)
    assert many == pytest.approx(stats.norm.sf((1399.5 - 70 * 15.5) / np.sqrt(70 * 899 / 12)))
    with pytest.raises(FitError):
        chance_of_ranks([3], [2])


def test_chances_held_over_all_are_those_of_holm() -> None:
    """statsmodels' multipletests."""
    from statsmodels.stats.multitest import multipletests

    p = [0.04, 0.001, 0.3, 0.012, 0.012]
    np.testing.assert_allclose(hold_over(p), multipletests(p, method="holm")[1])
    assert hold_over([]).tolist() == []
