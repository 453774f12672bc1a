"""The law of temperature and a second stress, against its likelihood written out and climbed here.

The log-likelihood of full densities is written anew in (log shape, log life of a share at the
stresses asked for, activation energy, exponent, interaction) and climbed by scipy; no solver of
the package enters. No published table of two stresses could be used: none stands in the package.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

import fleetstats as fs
from fleetstats.core.errors import ArgumentError, FitError
from fleetstats.survival.parameter import profile_drop
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.regression.held_law import HeldLaw, hold_life
from fleetstats.survival.stress.stress_bands import limits_life
from fleetstats.survival.stress.stress_life import transform
from fleetstats.survival.stress.stress_parameters import as_lives
from fleetstats.survival.stress.two_stress import TwoStressRuns
from fleetstats.survival.stress.two_stress_at import PointAsked, hold_law_at

LEVEL = 0.90
DROP = 0.5 * float(stats.chi2.ppf(LEVEL, 1))
K = 8.617333262e-5
KELVIN, LOAD = 333.0, 8.0
"""Where life is asked for: colder and lighter than any run."""


def bench(seed: int = 5, parts: int = 4) -> TwoStressRuns:
    rng = np.random.default_rng(seed)
    kelvin, load = (a.ravel() for a in np.meshgrid([353.0, 373.0, 393.0], [10.0, 20.0]))
    kelvin, load = np.repeat(kelvin, parts), np.repeat(load, parts)
    life = np.exp(-7.0 + 0.6 / (K * kelvin)) * load**-1.5 * rng.weibull(2.5, len(kelvin))
    return TwoStressRuns.of(kelvin, load, np.minimum(life, 8000.0), life < 8000.0)


RUNS = bench()


class Written:
    """The likelihood about (KELVIN, LOAD); theta = log shape, log scale there, E, n, (d)."""

    def __init__(self, interaction: bool) -> None:
        u, v = 1.0 / (K * RUNS.hot.stress), np.log(RUNS.loaded.stress)
        here = np.array([1.0 / (K * KELVIN), math.log(LOAD)])
        self.middle = np.array([u.mean(), v.mean()])
        both = np.column_stack([u, v])
        self.x, self.at = both - self.middle, here - self.middle
        if interaction:
            self.x = np.column_stack([self.x, self.x.prod(axis=1)])
            self.at = np.append(self.at, self.at.prod())
        self.k = len(self.at)

    def value(self, theta: np.ndarray) -> float:
        shape = math.exp(theta[0])
        log_scale = theta[1] + (self.x - self.at) @ theta[2:]
        t, failed = RUNS.hot.life, RUNS.hot.failed
        density = stats.weibull_min.logpdf(t, shape, scale=np.exp(log_scale))
        alive = stats.weibull_min.logsf(t, shape, scale=np.exp(log_scale))
        return float(np.where(failed, density, alive).sum())

    def climb(self, make, start: np.ndarray) -> tuple[float, np.ndarray]:
        """Return the maximum over the arguments of `make`, which makes theta."""
        minus = lambda z: -self.value(make(z))  # noqa: E731
        found = optimize.minimize(
            minus, start, method="Nelder-Mead",
            options={"xatol": 1e-4, "fatol": 1e-6, "maxiter": 40000, "adaptive": True},
        )  # fmt: skip
        found = optimize.minimize(minus, found.x, method="BFGS", options={"gtol": 1e-8})
        return -float(found.fun), found.x

    def top(self) -> tuple[float, np.ndarray]:
        start = np.concatenate([[0.8, 9.5, 0.5, -1.5], np.zeros(self.k - 2)])
        return self.climb(lambda z: z, start)


@pytest.fixture(scope="module", params=[False, True])
def written(request: pytest.FixtureRequest) -> tuple[bool, Written, float, np.ndarray]:
    law = Written(request.param)
    return request.param, law, *law.top()


def test_the_fit_is_the_maximum(written: tuple[bool, Written, float, np.ndarray]) -> None:
    interaction, law, top, best = written
    fit = fs.fit_two_stress(RUNS, interaction=interaction, level=LEVEL)
    assert fit.log_likelihood == pytest.approx(top, abs=1e-7)
    assert fit.shape.estimate == pytest.approx(math.exp(best[0]), rel=1e-5)
    assert math.log(fit.scale(KELVIN, LOAD)) == pytest.approx(best[1], rel=1e-5)
    assert fit.activation_ev.estimate == pytest.approx(best[2], rel=1e-5)
    assert fit.exponent.estimate == pytest.approx(best[3], rel=1e-5)
    assert fit.middle_kelvin == pytest.approx(1.0 / (K * law.middle[0]), rel=1e-12)
    if interaction:
        assert fit.interaction.estimate == pytest.approx(best[4], abs=1e-5)
        plain = fs.fit_two_stress(RUNS).log_likelihood
        want = float(stats.chi2.sf(2.0 * (top - plain), 1))
        assert fit.interaction_p_value == pytest.approx(want, rel=1e-4)
    else:
        assert fit.interaction is None
        free = np.array([0, 1, 2])
        for edge in (fit.exponent.low, fit.exponent.high):
            held = law.climb(lambda z, n=edge: np.append(z, n), best[free])[0]
            assert top - held == pytest.approx(DROP, rel=1e-5)


def test_life_reliability_and_hazard_at_a_pair_of_stresses(
    written: tuple[bool, Written, float, np.ndarray],
) -> None:
    interaction, law, top, best = written
    age = 6000.0
    got = fs.quote_two_stress(
        RUNS, kelvin=KELVIN, stress=LOAD, shares=[0.1], ages_h=age, interaction=interaction,
        level=LEVEL, draws=0,
    )  # fmt: skip
    shape, log_age = math.exp(best[0]), math.log(age)
    life, at = got.lives[0].life_h, got.ages[0]
    w_p = math.log(-math.log(0.9))
    assert life.estimate == pytest.approx(math.exp(best[1] + w_p / shape), rel=1e-5)
    z = shape * (log_age - best[1])
    assert at.reliability.estimate == pytest.approx(math.exp(-math.exp(z)), rel=1e-5)
    assert at.hazard_per_h.estimate == pytest.approx(shape / age * math.exp(z), rel=1e-5)
    rest = np.delete(best, 1)

    def fall(scale_of) -> float:
        """Return the fall with the log scale that a shape must have for what is held."""
        make = lambda z: np.concatenate([[z[0], scale_of(math.exp(z[0]))], z[1:]])  # noqa: E731
        return top - law.climb(make, rest)[0]

    for edge in (life.low, life.high):
        there = math.log(edge)
        assert fall(lambda b, q=there: q - w_p / b) == pytest.approx(DROP, rel=1e-4)
    for edge in (at.reliability.low, at.reliability.high):
        w = math.log(-math.log(edge))
        assert fall(lambda b, w=w: log_age - w / b) == pytest.approx(DROP, rel=1e-4)
    for edge in (at.hazard_per_h.low, at.hazard_per_h.high):
        w = math.log(edge * age)
        assert fall(lambda b, w=w: log_age - (w - math.log(b)) / b) == pytest.approx(DROP, rel=1e-4)
    assert got.outside == ("temperature", "stress")
    assert got.lives[0].extrapolated
    fit = fs.fit_two_stress(RUNS, interaction=interaction)
    assert fit.life(0.1, KELVIN, LOAD) == pytest.approx(life.estimate, rel=1e-12)


def test_one_stress_asked_in_two_ways_gets_one_answer() -> None:
    """The law of one stress and the machinery of this one, on the same runs."""
    hot = RUNS.hot
    lives, x = as_lives(hot, "arrhenius")
    problem = Problem.of(lives)
    best = solve_accelerated(problem, np.column_stack([np.ones(len(x)), x]))
    x0 = transform(KELVIN, "arrhenius")
    here = HeldLaw(
        problem=problem, dx=(x - x0)[:, None], penalty=np.zeros(1),
        start=np.array([math.log(best.shape), best.shape * best.coef[1]]), top=best.log_likelihood,
        drop=profile_drop(LEVEL), one_sided=False, best_shape=best.shape,
        best_centre=float(best.coef[0] + x0 * best.coef[1]),
    )  # fmt: skip
    one, other = (
        hold_life(here, 0.1),
        limits_life(hot, 0.1, KELVIN, relation="arrhenius", level=LEVEL),
    )
    for name in ("estimate", "low", "high"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-5)


def test_inside_the_runs_nothing_is_extrapolated() -> None:
    got = fs.quote_two_stress(
        RUNS, kelvin=373.0, stress=15.0, shares=[0.1, 0.5], ages_h=[500.0], draws=0
    )
    assert got.outside == ()
    assert not any(x.extrapolated for x in (*got.lives, *got.ages))
    late = fs.quote_two_stress(RUNS, kelvin=373.0, stress=15.0, ages_h=[8001.0], draws=0)
    assert late.ages[0].extrapolated


def test_limits_are_moved_by_benches_drawn_and_do_not_hang_on_the_order() -> None:
    """Our own rule (the one-stress bench's), no outside source for the figures."""
    ask = {"kelvin": KELVIN, "stress": LOAD, "shares": [0.1], "ages_h": [6000.0], "level": LEVEL}
    plain = fs.quote_two_stress(RUNS, draws=0, **ask)
    moved = fs.quote_two_stress(RUNS, draws=50, seed=3, **ask)
    life, was = moved.lives[0].life_h, plain.lives[0].life_h
    assert life.estimate == was.estimate
    assert life.low < was.low
    at, before = moved.ages[0], plain.ages[0]
    assert at.reliability.low < before.reliability.low < before.reliability.estimate
    assert at.hazard_per_h.high > before.hazard_per_h.high
    order = np.random.default_rng(1).permutation(len(RUNS))
    hot, load = RUNS.hot, RUNS.loaded.stress
    turned = TwoStressRuns.of(hot.stress[order], load[order], hot.life[order], hot.failed[order])
    again = fs.quote_two_stress(turned, draws=50, seed=3, **ask).lives[0].life_h
    assert again.low == pytest.approx(life.low, rel=1e-6)
    assert again.high == pytest.approx(life.high, rel=1e-6)


def test_a_root_is_of_the_likelihood_written_out() -> None:
    """The signed root of a drawn bench, its truth stated, against the law climbed here."""
    law = Written(False)
    top, best = law.top()
    w_p, truth = math.log(-math.log(0.9)), best[1] + 0.3
    there = truth + w_p / math.exp(best[0])
    held = law.climb(
        lambda z: np.concatenate([[z[0], there - w_p / math.exp(z[0])], z[1:]]), best[[0, 2, 3]]
    )[0]
    at = hold_law_at(RUNS, KELVIN, LOAD, False, LEVEL)
    mine = PointAsked(kind="life", given=0.1, log_age=there, about=w_p).root(at)
    assert mine == pytest.approx(-math.sqrt(2.0 * (top - held)), rel=1e-5)


def test_stresses_that_go_together_are_refused() -> None:
    rising = TwoStressRuns.of([350, 350, 370, 370, 390, 390], [1, 1, 2, 2, 4, 4], range(1, 7), True)
    together = r"do not tell temperature and second stress apart"
    line = np.exp(-3.0 / (K * rising.hot.stress) / 100)
    straight = TwoStressRuns.of(rising.hot.stress, line, rising.hot.life, True)
    with pytest.raises(FitError, match=together):
        fs.fit_two_stress(straight)
    three = TwoStressRuns.of([350, 350, 370, 370, 350, 350], [1, 1, 1, 1, 4, 4], range(1, 7), True)
    with pytest.raises(FitError, match=together):
        fs.fit_two_stress(three, interaction=True)
    assert fs.fit_two_stress(three).n_failed == 6
    with pytest.raises(FitError, match=together):
        fs.quote_two_stress(TwoStressRuns.of(350, [1, 2], 5, False), kelvin=1, stress=1)


@pytest.mark.parametrize("name", ["kelvin", "stress", "life", "failed"])
def test_runs_are_refused_by_the_columns_name(name: str) -> None:
    good = {"kelvin": [350, 370], "stress": [1, 2], "life": [9, 4], "failed": [1, 0]}
    assert len(TwoStressRuns.of(**good)) == 2
    for wrong in ([1.0], ["a", "b"], [float("nan"), 1.0], None):
        with pytest.raises(ArgumentError, match=name):
            TwoStressRuns.of(**(good | {name: wrong}))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("benches", "draws", "missed"), [(500, 0, (0.08, 0.04)), (300, 60, (0.04, 0.05))]
)
def test_how_often_limits_far_from_the_runs_miss(
    benches: int, draws: int, missed: tuple[float, float]
) -> None:
    """What `quote_two_stress` says of 24 runs; the truth is ours, no outside source."""
    truth = math.exp(-7.0 + 0.6 / (K * KELVIN)) * LOAD**-1.5 * (-math.log(0.9)) ** (1 / 2.5)
    low = high = 0
    for seed in range(benches):
        edged = fs.quote_two_stress(
            bench(1000 + seed), kelvin=KELVIN, stress=LOAD, shares=[0.1], level=LEVEL, draws=draws,
            seed=seed,
        ).lives[0].life_h  # fmt: skip
        low += edged.low is not None and edged.low > truth
        high += edged.high is not None and edged.high < truth
    assert (low / benches, high / benches) == pytest.approx(missed, abs=0.005)
