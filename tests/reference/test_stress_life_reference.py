"""Stress-life against R's values and a library: insulating fluid (Nelson 1972), and made runs.

The fluid's table and values stand in ``data/more/cases.json`` (case fluid-aft; R's survreg).
`reliability` 0.9 fits the same inverse power Weibull; its optimiser stops at about 1e-4.
"""

import warnings

import numpy as np
import pytest
from cases_support import expected, numbers, tolerance

from fleetstats.spells import Spells
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.stress.field_lives import FieldLives
from fleetstats.survival.stress.stress_bands import (
    levels_agree,
    limits_life,
    limits_margin,
    limits_ratio,
)
from fleetstats.survival.stress.stress_life import (
    Held,
    StressRuns,
    fit_stress_life,
    stress_likelihood,
)


@pytest.fixture(scope="module")
def fluid():
    t = numbers("more/insulating_fluid.csv")
    return StressRuns.of(t["kV"], t["minutes"], np.ones(len(t["kV"]), dtype=bool))


def test_insulating_fluid_agrees_with_survreg(fluid):
    want, rel = expected("fluid-aft"), tolerance("fluid-aft")
    fit = fit_stress_life(fluid)
    assert fit.intercept == pytest.approx(want["intercept"], rel=rel)
    assert fit.slope == pytest.approx(want["ln_kV"], rel=rel)
    assert fit.shape == pytest.approx(want["shape"], rel=rel)
    assert fit.log_likelihood == pytest.approx(want["loglik"], rel=rel)
    assert fit.life(0.10, 26.0) == pytest.approx(want["B10_at_26kV"], rel=rel)


def made(seed, *, n=8, cut=3e3):
    rng = np.random.default_rng(seed)
    stress = np.repeat([20.0, 24.0, 30.0], n)
    life = 500.0 * (20.0 / stress) ** 6 * rng.weibull(2.0, 3 * n) * 4
    return StressRuns.of(stress, np.minimum(life, cut), life < cut)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("relation", ["power", "exponential"])
def test_run_outs_agree_with_the_regression_solver(seed, relation):
    """Two roads within the house: the profile's likelihood and the covariate regression."""
    runs = made(seed, cut=900.0)
    x = np.log(runs.stress) if relation == "power" else runs.stress
    spells = Spells.of(np.zeros(len(runs)), runs.life, runs.failed)
    other = solve_accelerated(Problem.of(spells), np.column_stack([np.ones(len(x)), x]))
    fit = fit_stress_life(runs, relation=relation)
    assert fit.slope == pytest.approx(other.coef[1], rel=1e-6)
    assert fit.intercept == pytest.approx(other.coef[0], rel=1e-6)
    assert fit.shape == pytest.approx(other.shape, rel=1e-6)
    assert fit.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-9)


def test_run_outs_agree_with_reliability():
    import matplotlib as mpl

    mpl.use("Agg")
    runs = made(4, cut=900.0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from reliability.ALT_fitters import Fit_Weibull_Power

        theirs = Fit_Weibull_Power(
            failures=runs.life[runs.failed],
            failure_stress=runs.stress[runs.failed],
            right_censored=runs.life[~runs.failed],
            right_censored_stress=runs.stress[~runs.failed],
            show_probability_plot=False,
            show_life_stress_plot=False,
            print_results=False,
        )
    fit = fit_stress_life(runs)
    assert fit.slope == pytest.approx(theirs.n, rel=2e-3)
    assert fit.shape == pytest.approx(theirs.beta, rel=2e-3)
    assert fit.log_likelihood >= theirs.loglik - 1e-6
    assert fit.log_likelihood == pytest.approx(theirs.loglik, abs=1e-3)


def test_profile_limits_stand_where_the_likelihood_has_fallen(fluid):
    edges = limits_life(fluid, 0.10, 20.0, relation="power", level=0.90)
    like = stress_likelihood(fluid, "power", 0.10, 20.0)
    top = like.peak().value
    for edge in (edges.low, edges.high):
        fall = top - like.peak(Held(log_life=np.log(edge))).value
        assert 2.0 * fall == pytest.approx(2.705543, rel=1e-4)  # chi-square, 0.90, 1 df
    margin = limits_margin(fluid, 0.10, 20.0, edges.estimate, relation="power", level=0.90)
    assert margin.estimate == pytest.approx(1.0, abs=1e-9)
    # The life's lower edge is at the requirement exactly where the margin's lower edge is 1.
    at_edge = limits_margin(fluid, 0.10, 20.0, edges.low, relation="power", level=0.90)
    assert at_edge.low == pytest.approx(1.0, abs=1e-5)


def test_level_tests_by_hand(fluid):
    """The free models by other roads: each stress fitted by the house's Weibull kernel."""
    from fleetstats.survival.weibull.fit_weibull import fit_weibull

    stat, p, df, shape_stat, _, shape_df = levels_agree(fluid, relation="power")
    assert (df, shape_df) == (2, 3)
    own = 0.0
    for s in fluid.levels:
        t = fluid.life[fluid.stress == s]
        own += fit_weibull(Spells.of(np.zeros(len(t)), t, np.ones(len(t), bool))).log_likelihood
    law = fit_stress_life(fluid).log_likelihood
    assert stat + shape_stat == pytest.approx(2 * (own - law), rel=1e-6)
    assert 0.1 < p < 0.6


def test_field_zero_failures_can_reject_the_bench():
    """Half the chi-square's tail: with nothing failed the ratio lies at its bound."""
    runs = made(5)
    quiet = Spells.of(np.zeros(60), np.full(60, 4000.0), np.zeros(60, dtype=bool))
    edges, statistic, p = limits_ratio(
        runs, FieldLives(spells=quiet, stress=18.0, per_h=1.0), relation="power", level=0.90
    )
    assert np.isinf(edges.estimate)
    assert edges.low > 1.0
    assert edges.high is None
    assert p < 0.01
    from scipy.stats import chi2

    assert p == pytest.approx(0.5 * chi2.sf(statistic, 1), rel=1e-9)
    short = Spells.of(np.zeros(5), np.full(5, 40.0), np.zeros(5, dtype=bool))
    _, small, p_short = limits_ratio(
        runs, FieldLives(spells=short, stress=18.0, per_h=1.0), relation="power", level=0.90
    )
    assert small < statistic
    assert p_short > 0.3


def test_a_field_that_follows_the_law_sharpens_it():
    runs = made(6)
    rng = np.random.default_rng(7)
    life = 2000.0 * (20.0 / 18.0) ** 6 * rng.weibull(2.0, 300)
    entry = np.where(rng.random(300) < 0.3, 200.0, 0.0)
    stop = np.minimum(life, 2500.0)
    keep = stop > entry
    field = Spells.of(entry[keep], stop[keep], life[keep] < 2500.0)
    alone = limits_life(runs, 0.10, 18.0, relation="power", level=0.90)
    both = limits_life(
        runs, 0.10, 18.0, relation="power", level=0.90,
        field=FieldLives(spells=field, stress=18.0, per_h=1.0),
    )  # fmt: skip
    truth = 2000.0 * (20.0 / 18.0) ** 6 * (-np.log(0.9)) ** 0.5
    assert both.low < truth < both.high
    assert both.high / both.low < 0.6 * alone.high / alone.low
    edges, _, p = limits_ratio(
        runs, FieldLives(spells=field, stress=18.0, per_h=1.0), relation="power", level=0.90
    )
    assert edges.low < 1.0 < edges.high
    assert p > 0.05
