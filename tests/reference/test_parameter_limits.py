"""Profile-likelihood limits of parameters, against profiles climbed by other people's code.

Hazard ratios: the partial likelihood is statsmodels' (`PHReg`, delayed entry, Efron or Breslow).
Weibull and power law: the likelihood is written out here and climbed by scipy. At each limit, twice
the fall of that profile must be the chi-square quantile; no limit of ours enters but as the place
where the other profile is asked. The definition: Cox & Hinkley 1974, section 9.3 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import optimize, stats

from fleetstats.spells import Spells
from fleetstats.spells.histories import Histories
from fleetstats.survival.parameter import Parameter, walk_out
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.regression.at_values import quote_at
from fleetstats.survival.regression.covariates import Covariates, build_covariates
from fleetstats.survival.regression.proportional import fit_proportional
from fleetstats.survival.regression.regression import fit_accelerated
from fleetstats.survival.regression.stratified import fit_stratified
from fleetstats.survival.stress.stress_life import (
    FieldLives,
    StressRuns,
    fit_stress_life,
    transform,
    transforms,
)
from fleetstats.survival.stress.stress_parameters import limits_parameters

LEVEL = 0.90
DROP = 0.5 * float(stats.chi2.ppf(LEVEL, 1))
Likelihood = Callable[[np.ndarray], float]


def fall(likelihood: Likelihood, best: np.ndarray, at: int, x: float) -> float:
    """Return how far a likelihood has fallen from its top with one of its arguments held."""
    free = np.arange(len(best)) != at

    def minus(rest: np.ndarray) -> float:
        theta = np.full(len(best), x)
        theta[free] = rest
        return -likelihood(theta)

    if not free.any():
        return likelihood(best) - likelihood(np.array([x]))
    found = optimize.minimize(
        minus, best[free], method="Nelder-Mead",
        options={"xatol": 1e-4, "fatol": 1e-6, "maxiter": 20000, "adaptive": True},
    )  # fmt: skip
    found = optimize.minimize(minus, found.x, method="BFGS", options={"gtol": 1e-9})
    return likelihood(best) + float(found.fun)


def fleet(n: int = 60, seed: int = 4) -> tuple[Spells, Covariates]:
    rng = np.random.default_rng(seed)
    x = rng.normal(size=n)
    build = np.where(rng.random(n) < 0.5, "A", "B")
    entry = np.where(rng.random(n) < 0.4, rng.uniform(10, 500, n), 0.0)
    scale = 1500 * np.exp(0.3 * x - 0.3 * (build == "B"))
    life = scale * ((entry / scale) ** 2 + rng.exponential(size=n)) ** 0.5
    stop = entry + rng.uniform(300, 1500, n)
    end = np.ceil(np.minimum(life, stop) / 40) * 40  # with ties
    lives = Spells.of(entry, end, life <= stop, build=build)
    return lives, build_covariates(lives, {"use": x}, groups=("build",))


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_limits_of_hazard_ratios_against_statsmodels(ties: str) -> None:
    from statsmodels.duration.hazard_regression import PHReg

    lives, covariates = fleet()
    got = fit_proportional(lives, covariates, level=LEVEL, ties=ties, limits="profile")
    theirs = PHReg(
        lives.exit_upper, covariates.values, lives.failed.astype(int), entry=lives.entry, ties=ties
    )
    best = np.array([r.coef for r in got.ratios])
    assert (got.limits, got.ties) == ("profile", ties)
    assert ties.capitalize() in repr(got)
    for j, one in enumerate(got.ratios):
        for edge in (one.low, one.high):
            at = float(np.log(edge)) / one.step
            assert fall(theirs.loglike, best, j, at) == pytest.approx(DROP, rel=1e-5)
        assert one.low < one.ratio < one.high
    plain = fit_proportional(lives, covariates, level=LEVEL, ties=ties)
    assert [r.std_error for r in plain.ratios] == [r.std_error for r in got.ratios]
    assert plain.ratios[0].low != got.ratios[0].low
    assert plain.ratios[0].low == pytest.approx(got.ratios[0].low, rel=0.05)


def test_limits_within_strata_against_statsmodels() -> None:
    from statsmodels.duration.hazard_regression import PHReg

    lives, covariates = fleet()
    strata = np.array(["odd", "even"])[np.arange(len(lives)) % 2]
    got = fit_stratified(lives, covariates, strata, level=LEVEL, limits="profile")
    theirs = PHReg(
        lives.exit_upper, covariates.values, lives.failed.astype(int), entry=lives.entry,
        strata=strata, ties="efron",
    )  # fmt: skip
    best = np.array([r.coef for r in got.ratios])
    for j, one in enumerate(got.ratios):
        for edge in (one.low, one.high):
            at = float(np.log(edge)) / one.step
            assert fall(theirs.loglike, best, j, at) == pytest.approx(DROP, rel=1e-5)


def weibull(lives: Spells, x: np.ndarray, ridge: np.ndarray | None = None) -> Likelihood:
    """Return the log-likelihood of (log shape, intercept, effects), written out."""
    entry, end, failed = lives.entry, lives.exit_upper, lives.failed

    def value(theta: np.ndarray) -> float:
        shape = np.exp(theta[0])
        log_scale = theta[1] + x @ theta[2:]
        with np.errstate(divide="ignore", over="ignore"):
            at_end = np.exp(shape * (np.log(end) - log_scale))
            at_entry = np.exp(shape * (np.log(entry) - log_scale))
        log_density = np.log(shape) + shape * (np.log(end) - log_scale) - np.log(end)
        prior = 0.0 if ridge is None else 0.5 * float(ridge @ theta[2:] ** 2)
        return float((lives.weight * (at_entry - at_end + failed * log_density)).sum()) - prior

    return value


@pytest.mark.parametrize("plain_from", [1.0, 1000.0])
def test_shape_and_intercept_of_a_regression(plain_from: float) -> None:
    """Free, and with the effects held back by the prior (sd 0.5 per sd or level)."""
    lives, covariates = fleet()
    got = fit_accelerated(lives, covariates, level=LEVEL, plain_from=plain_from)
    assert got.treatment == ("plain" if plain_from == 1.0 else "penalised")
    ridge = None
    if got.treatment == "penalised":
        ridge = np.array([covariates.deviation[0] / 0.5, 1.0 / 0.5]) ** 2
    likelihood = weibull(lives, covariates.values, ridge)
    best = np.array([np.log(got.shape), got.intercept, *(f.coef for f in got.factors)])
    for edge in (got.shape_low, got.shape_high):
        assert fall(likelihood, best, 0, float(np.log(edge))) == pytest.approx(DROP, rel=1e-5)
    for edge in (got.intercept_low, got.intercept_high):
        assert fall(likelihood, best, 1, edge) == pytest.approx(DROP, rel=1e-5)
    assert got.intercept_std_error == pytest.approx(
        (got.intercept_high - got.intercept_low) / 2 / np.sqrt(2 * DROP), rel=0.1
    )


def test_limits_at_chosen_values_do_not_depend_on_a_covariates_unit() -> None:
    """A law, no outside source: in small units the effect is large, and the limits the same."""
    lives, _ = fleet()
    x = np.random.default_rng(5).normal(size=len(lives))
    told = []
    for unit in (1.0, 1e-5):
        covariates = build_covariates(lives, {"use": unit * x})
        like = np.ones(len(lives), dtype=bool)
        law = quote_at(
            lives, covariates, np.array([0.5 * unit]), like, shares=(0.1,), ages_h=(700.0,)
        )
        told.append([law.lives[0].life_h, law.ages[0].reliability, law.ages[0].hazard_per_h])
    for one, other in zip(*told, strict=True):
        assert one.low == pytest.approx(other.low, rel=1e-6)
        assert one.high == pytest.approx(other.high, rel=1e-6)


def test_effects_refused_still_leave_limits_of_the_law() -> None:
    lives, covariates = fleet()
    got = fit_accelerated(lives, covariates, level=LEVEL, refused_below=1000.0)
    assert got.treatment == "refused"
    likelihood = weibull(lives, np.zeros((len(lives), 0)))
    best = np.array([np.log(got.shape), got.intercept])
    for at, edge in ((0, np.log(got.shape_low)), (1, got.intercept_high)):
        assert fall(likelihood, best, at, float(edge)) == pytest.approx(DROP, rel=1e-6)


def bench(seed: int = 3) -> StressRuns:
    rng = np.random.default_rng(seed)
    kelvin = np.repeat([350.0, 370.0, 390.0], 6)
    life = np.exp(-12.0 + 0.6 / (8.617333262e-5 * kelvin)) * rng.weibull(2.5, 18)
    return StressRuns.of(kelvin, np.minimum(life, 4000.0), life < 4000.0)


@pytest.mark.parametrize("relation", ["arrhenius", "power", "exponential"])
def test_parameters_of_a_bench(relation: str) -> None:
    runs = bench()
    got = limits_parameters(runs, relation=relation, level=LEVEL)
    fit = fit_stress_life(runs, relation=relation)
    for name in ("shape", "intercept", "slope"):
        assert getattr(got, name).estimate == pytest.approx(getattr(fit, name), rel=1e-8)
    x = transforms(runs.stress, relation)
    lives = Spells.of(0.0, runs.life, runs.failed)
    # about the middle of the runs, where a climb without derivatives finds the top
    middle = float(x.mean())
    likelihood = weibull(lives, (x - middle)[:, None])
    best = np.array([np.log(fit.shape), fit.intercept + fit.slope * middle, fit.slope])
    about_0 = lambda t: likelihood(np.array([t[0], t[1] + t[2] * middle, t[2]]))  # noqa: E731
    for edge in (got.shape.low, got.shape.high):
        assert fall(likelihood, best, 0, float(np.log(edge))) == pytest.approx(DROP, rel=1e-5)
    for edge in (got.slope.low, got.slope.high):
        assert fall(likelihood, best, 2, edge) == pytest.approx(DROP, rel=1e-5)
    at_0 = np.array([best[0], fit.intercept, fit.slope])
    for edge in (got.intercept.low, got.intercept.high):
        assert fall(about_0, at_0, 1, edge) == pytest.approx(DROP, rel=1e-4)
    if relation == "arrhenius":
        assert got.activation_ev.estimate == -got.slope.estimate
        assert (got.activation_ev.low, got.activation_ev.high) == (-got.slope.high, -got.slope.low)
    else:
        assert got.activation_ev is None


def test_parameters_of_a_bench_joined_by_the_field() -> None:
    runs = bench()
    field = FieldLives(
        spells=Spells.of([0.0, 100.0, 0.0, 0.0], [2000.0, 2500.0, 900.0, 1800.0], [1, 0, 0, 1]),
        stress=345.0,
        per_h=2.0,
    )
    ask = {"relation": "arrhenius", "field": field}
    got = limits_parameters(runs, level=LEVEL, **ask)
    fit = fit_stress_life(runs, **ask)
    assert got.slope.estimate == pytest.approx(fit.slope, rel=1e-8)
    x = np.append(transforms(runs.stress, "arrhenius"), [transform(345.0, "arrhenius")] * 4)
    s = field.spells
    lives = Spells.of(
        np.append(np.zeros(18), 2.0 * s.entry), np.append(runs.life, 2.0 * s.exit_upper),
        np.append(runs.failed, s.failed),
    )  # fmt: skip
    middle = float(x.mean())
    likelihood = weibull(lives, (x - middle)[:, None])
    best = np.array([np.log(fit.shape), fit.intercept + fit.slope * middle, fit.slope])
    for edge in (got.slope.low, got.slope.high):
        assert fall(likelihood, best, 2, edge) == pytest.approx(DROP, rel=1e-5)
    alone = limits_parameters(runs, own_ratio=True, level=LEVEL, **ask)
    apart = fit_stress_life(runs, own_ratio=True, **ask)
    assert alone.shape.estimate == pytest.approx(apart.shape, rel=1e-8)
    own = np.column_stack([x - middle, np.arange(22) >= 18])
    best = np.array(
        [np.log(apart.shape), apart.intercept + apart.slope * middle, apart.slope,
         np.log(apart.ratio)]
    )  # fmt: skip
    assert fall(weibull(lives, own), best, 2, alone.slope.low) == pytest.approx(DROP, rel=1e-4)
    none = FieldLives(spells=Spells.of(0.0, [500.0, 700.0], False), stress=345.0, per_h=1.0)
    dropped = limits_parameters(runs, relation="arrhenius", field=none, own_ratio=True)
    assert dropped.slope.low == pytest.approx(
        limits_parameters(runs, relation="arrhenius").slope.low, rel=1e-8
    )


@pytest.mark.parametrize("late", [0.0, 120.0])
def test_scale_of_a_power_law(late: float) -> None:
    watch = Histories.of(
        ["a", "b", "c"], [0.0, late, 0.0], [1000.0, 900.0, 1500.0], list("aaabccc"),
        [100.0, 500.0, 800.0, 700.0, 300.0, 900.0, 1400.0],
    )  # fmt: skip
    got = fit_power_law(watch, level=LEVEL)

    def likelihood(theta: np.ndarray) -> float:
        shape, lam = np.exp(theta)
        rate = np.log(lam * shape) + (shape - 1.0) * np.log(watch.event_h)
        return float(rate.sum() - lam * (watch.end_h**shape - watch.start_h**shape).sum())

    best = np.log([got.shape, got.lam])
    assert likelihood(best) == pytest.approx(got.log_likelihood, rel=1e-12)
    for edge in (got.lam_low, got.lam_high):
        assert fall(likelihood, best, 1, float(np.log(edge))) == pytest.approx(DROP, rel=1e-5)
    assert got.lam_low < got.lam < got.lam_high


def test_scale_of_a_power_law_over_thousands_of_engines() -> None:
    """So many events make the likelihood too large to judge small gains: no limit is lost by it.

    A life to a failure, and for some one more watched without; the best shape at a scale is the
    root of the slope, and the fall that of the profile (Lawless 2003, section 4.1).
    """
    rng = np.random.default_rng(7)
    n = 5000
    life = 1500 * rng.weibull(3.0, n)
    seen = np.minimum(life, rng.uniform(100, 1900, n))
    again = rng.random(n) < 0.4
    start = np.concatenate([np.zeros(n), seen[again]])
    end = np.concatenate([seen, seen[again] + rng.uniform(50, 1500, int(again.sum()))])
    engine, failed = np.arange(n), np.flatnonzero(life <= seen)
    # all but a few events end a watch
    watch = Histories.of(
        [f"E{i}" for i in (*engine, *engine[again])], start, end,
        [f"E{i}" for i in failed], np.where(failed % 100, life[failed], 0.5 * life[failed]),
    )  # fmt: skip
    got = fit_power_law(watch, level=LEVEL)
    logs, m = np.log(watch.event_h).sum(), len(watch.event_h)
    a, b = np.log(np.maximum(watch.start_h, 1e-300)), np.log(watch.end_h)

    def profile(log_lam: float) -> float:
        def slope(shape: float) -> float:
            moved = np.exp(log_lam + shape * b) * b - np.exp(log_lam + shape * a) * a
            return float(m / shape + logs - moved.sum())

        shape = float(optimize.brentq(slope, 0.05, 9.0, xtol=1e-14))
        lost = np.exp(log_lam + shape * b) - np.exp(log_lam + shape * a)
        return float(m * (log_lam + np.log(shape)) + shape * logs - lost.sum())

    top = profile(float(np.log(got.lam)))
    for edge in (got.lam_low, got.lam_high):
        assert top - profile(float(np.log(edge))) == pytest.approx(DROP, rel=1e-5)


def test_a_profile_that_never_falls_far_enough_has_no_edge() -> None:
    assert walk_out(lambda x: np.tanh(x) - 2.0, 0.0, 1.0, step=0.5, farthest=30.0) is None
    edge = walk_out(lambda x: x * x - 4.0, 0.0, -1.0, step=0.5, farthest=30.0)
    assert edge == pytest.approx(-2.0)
    none = Parameter(
        name="shape", unit="", estimate=2.0, std_error=0.5, low=1.2, high=None, level=0.9
    )
    assert repr(none) == "shape: 2 (1.2 to no limit, 90 %)"
