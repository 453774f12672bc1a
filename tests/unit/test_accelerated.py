"""The accelerated-life likelihood: its slopes, its limits, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, special

from fleetstats.core.errors import ArgumentError, FitError, NoMaximum
from fleetstats.spells import Spells
from fleetstats.survival.groups.rate_ratio import compare_rates
from fleetstats.survival.regression.accelerated import Problem, _parts, solve_accelerated
from fleetstats.survival.regression.covariates import build_covariates, plain_step
from fleetstats.survival.regression.proportional import (
    check_proportional,
    fit_proportional,
    partial_log_likelihood,
)
from fleetstats.survival.regression.regression import fit_accelerated, profile_coefficient
from fleetstats.survival.weibull.fit_weibull import fit_weibull, weibull_log_likelihood


def mixed_fleet(n: int = 60, seed: int = 2) -> tuple[Spells, np.ndarray]:
    """Late entry, exact and interval-known failures, one known only to lie before a check."""
    rng = np.random.default_rng(seed)
    x = rng.normal(size=n)
    entry = np.where(rng.random(n) < 0.4, rng.uniform(10, 500, n), 0.0)
    scale = 1500 * np.exp(0.25 * x)
    life = scale * ((entry / scale) ** 2 + rng.exponential(size=n)) ** 0.5
    stop = entry + rng.uniform(300, 1500, n)
    failed = life <= stop
    end = np.minimum(life, stop)
    lower = np.where(
        failed & (rng.random(n) < 0.5), np.maximum(entry, np.floor(end / 100) * 100), end
    )
    upper = np.where(lower < end, np.ceil(end / 100) * 100, end)
    first = int(np.flatnonzero(failed & (entry == 0))[0])
    lower[first] = 0.0
    return Spells.of(entry, upper, failed, exit_lower=lower, weight=rng.uniform(0.5, 2, n)), x


def test_slopes_match_differences() -> None:
    spells, x = mixed_fleet()
    problem = Problem.of(spells)
    design = np.column_stack([np.ones(len(x)), x])
    offset = 0.1 * x
    theta = np.array([0.5, 0.3, -0.2])
    _, grad, hess = _parts(problem, offset, design, theta)
    h = 1e-5
    for i in range(3):
        step = np.eye(3)[i] * h
        up, down = (_parts(problem, offset, design, theta + s) for s in (step, -step))
        assert grad[i] == pytest.approx((up[0] - down[0]) / (2 * h), rel=1e-6)
        assert hess[i] == pytest.approx((up[1] - down[1]) / (2 * h), rel=1e-6, abs=1e-5)


def test_without_covariates_it_is_the_weibull_fit() -> None:
    spells, _ = mixed_fleet()
    ours = solve_accelerated(Problem.of(spells), np.ones((len(spells), 1)))
    fit = fit_weibull(spells)
    assert ours.shape == pytest.approx(fit.shape, rel=1e-7)
    assert np.exp(ours.coef[0]) == pytest.approx(fit.scale_h, rel=1e-7)
    assert ours.log_likelihood == pytest.approx(fit.log_likelihood, rel=1e-10)


def test_profile_limits_by_another_road() -> None:
    """At a limit, dividing ages by the factor and refitting plainly gives the drop."""
    spells, x = mixed_fleet()
    group = (x > 0).astype(float)
    design = np.column_stack([np.ones(len(x)), group])
    problem = Problem.of(spells)
    best = solve_accelerated(problem, design)
    low, high = profile_coefficient(problem, design, best, 1, 0.90)
    assert low < best.coef[1] < high
    for b in (low, high):
        by = np.exp(b * group)
        shrunk = spells.replace(
            entry=spells.entry / by,
            exit_lower=spells.exit_lower / by,
            exit_upper=spells.exit_upper / by,
        )
        exact = spells.failed & ~spells.interval_known
        value = fit_weibull(shrunk).log_likelihood - (spells.weight * b * group)[exact].sum()
        assert 2 * (best.log_likelihood - value) == pytest.approx(1.6448536**2, rel=1e-5)


def test_effects_are_free_penalised_or_refused_by_what_is_in_hand() -> None:
    rng = np.random.default_rng(5)
    n = 80
    life, x = 1000 * rng.weibull(2, n), rng.normal(size=(n, 4))
    many = Spells.of(np.zeros(n), life, np.ones(n))
    names = ["a", "b", "c", "d"]
    numbers = {k: x[:, i] for i, k in enumerate(names)}
    free = fit_accelerated(many, build_covariates(many, numbers))
    assert free.treatment == "plain"
    assert all(f.prior_share == 0 and f.shape_p_value is not None for f in free.factors)
    some = Spells.of(np.zeros(n), life, np.arange(n) < 20)
    held = fit_accelerated(some, build_covariates(some, numbers))
    assert held.treatment == "penalised"
    assert "20 failures for 4 covariates, 5 each" in held.because
    assert [c.code for c in held.cautions] == ["prior-driven"]
    unheld = fit_accelerated(some, build_covariates(some, numbers), plain_from=1)
    for a, b in zip(held.factors, unheld.factors, strict=True):
        assert np.log(a.high / a.low) < np.log(b.high / b.low)
        assert 0 < a.prior_share < 1
    size = [sum(f.coef**2 for f in r.factors) for r in (held, unheld)]
    assert size[0] < size[1]
    few = Spells.of(np.zeros(n), life, np.arange(n) < 8)
    none = fit_accelerated(few, build_covariates(few, numbers))
    assert (none.treatment, none.factors) == ("refused", ())
    assert "at least 3 each" in none.because


def test_a_build_without_failures_has_no_free_factor() -> None:
    n = 60
    build = np.array(["A", "B"])[np.arange(n) % 2]
    failed = (build == "A") & (np.arange(n) % 4 == 0)
    spells = Spells.of(np.zeros(n), np.linspace(100, 1500, n), failed, build=build)
    x = build_covariates(spells, {}, groups=("build",))
    assert x.names == ("build: B v A",)
    fit = fit_accelerated(spells, x)
    assert fit.treatment == "plain"
    assert "No failure in build: B v A: the limit there is one-sided." in fit.because
    (only,) = fit.factors
    assert (only.factor, only.high, only.coef, only.prior_share) == (None, None, None, 0.0)
    assert only.reading == ("longer" if only.low > 1 else "not shown")
    # the same with the shape held, by the exact conditional limit of two counts
    a, b = (spells.select(build == x) for x in "AB")
    for shape in (1.0, fit.shape, 4.0):
        e = [float((s.exit_upper**shape).sum()) for s in (b, a)]
        exact = compare_rates(0, e[0], a.n_failed, e[1]).high ** (-1 / shape)
        near = fit.shape == shape
        assert only.low == pytest.approx(exact, rel=0.12 if near else 1.0)
    with pytest.raises(NoMaximum, match="for ever"):
        solve_accelerated(Problem.of(spells), x.design)
    with pytest.raises(FitError, match="proportional-hazards"):
        fit_proportional(spells, x)


def test_covariates_account_for_every_life() -> None:
    build = ["A", "A", "B", "", "B"]
    spells = Spells.of(np.zeros(5), [1, 2, 3, 4, 5], [1, 1, 0, 1, 0], build=build)
    x = build_covariates(
        spells, {"boost": np.array([1, np.nan, 3, 4, 5]), "flat": np.ones(5)}, groups=("build",)
    )
    assert x.keep.tolist() == [True, False, True, False, True]
    assert dict(x.set_aside) == {
        "boost not given": 1,
        "build not given": 1,
        "column flat without spread left out": 0,
    }
    assert x.names == ("boost", "build: B v A")
    assert x.values[:, 0].sum() == pytest.approx(0)
    with pytest.raises(FitError, match="5 lives"):
        build_covariates(spells, {"boost": np.ones(4)})
    with pytest.raises(FitError, match="colour"):
        build_covariates(spells, {}, groups=("colour",))
    with pytest.raises(FitError, match="no covariate"):
        fit_accelerated(spells, build_covariates(spells, {}))
    with pytest.raises(ArgumentError, match=r"^covariates = .* 5 lives, not for the 4"):
        fit_accelerated(spells.select(np.arange(4)), x)


@pytest.mark.parametrize(("sd", "step"), [(1.0, 1), (14.9, 10), (16, 20), (0.4, 0.5), (80, 100)])
def test_steps_are_plain_figures(sd: float, step: float) -> None:
    assert plain_step(sd) == pytest.approx(step)


def test_proportional_check_holds_its_level_and_sees_crossing_hazards() -> None:
    rng = np.random.default_rng(12)
    x = np.repeat([0.0, 1.0], 60)[:, None]
    entry = np.where(rng.random(120) < 0.3, 100.0, 0.0)
    level, seen = [], []
    for _ in range(80):
        e = rng.exponential(size=120)
        for shape, out in ((np.full(120, 2.0), level), (np.where(x[:, 0] > 0, 1.0, 3.0), seen)):
            t = 1000 * ((entry / 1000) ** shape + e) ** (1 / shape)
            spells = Spells.of(entry, np.minimum(t, 1500), t <= 1500)
            best = _cox(spells, x)
            out.append(check_proportional(spells, x, best)[1] < 0.05)
    assert np.mean(level) < 0.05 + 3 * 0.025
    assert np.mean(seen) > 0.9


def _cox(spells: Spells, x: np.ndarray) -> np.ndarray:
    found = optimize.minimize_scalar(
        lambda b: -partial_log_likelihood(spells, x, np.array([b])), bracket=(-0.5, 0.5)
    )
    return np.array([found.x])


def test_shape_check_sees_a_shape_that_varies() -> None:
    rng = np.random.default_rng(6)
    x = np.repeat([0.0, 1.0], 80)
    same, other = (1000 * rng.weibull(s) for s in (np.full(160, 2.0), np.where(x > 0, 1.0, 3.5)))
    p = []
    for t in (same, other):
        spells = Spells.of(np.zeros(160), t, np.ones(160), build=np.where(x > 0, "B", "A"))
        fit = fit_accelerated(spells, build_covariates(spells, {}, groups=("build",)))
        p.append(fit.factors[0].shape_p_value)
        # With two groups the test is that of two own fits against one shape.
        parts = [spells.select(x == v) for v in (0, 1)]
        own = sum(fit_weibull(q).log_likelihood for q in parts)
        want = special.chdtrc(1, 2 * (own - fit.log_likelihood))
        assert p[-1] == pytest.approx(want, rel=1e-3)
    assert p[1] < 1e-6 < p[0]


def test_log_likelihood_is_that_of_full_densities() -> None:
    spells, _ = mixed_fleet()
    fit = fit_weibull(spells)
    ours = solve_accelerated(Problem.of(spells), np.ones((len(spells), 1)))
    direct = weibull_log_likelihood(
        fit.shape, fit.scale_h, spells.entry, spells.exit_lower, spells.exit_upper, spells.failed,
        spells.weight,
    )  # fmt: skip
    assert ours.log_likelihood == pytest.approx(direct, rel=1e-9)
