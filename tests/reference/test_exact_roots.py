"""Maxima against roots of the score worked out with 40 digits, written from the densities anew.

Source: the likelihoods themselves (Cox 1972 with Efron's ties, 1977; the Weibull density), solved
by mpmath without any code of the package.
"""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from cases_support import numbers

from fleetstats.spells import Spells
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import fit_proportional
from fleetstats.survival.stress.stress_life import StressRuns, fit_stress_life

CLOSE = 1e-10


def late_fleet(seed: int, n: int = 36) -> tuple[np.ndarray, ...]:
    """Draw lives with two covariates, ties and late entry.

    The seeds asked for are those, among the first 150, on which stopping before the last step
    showed most: relative errors of a coefficient from 4e-7 to 2e-6.
    """
    rng = np.random.default_rng(seed)
    entry = np.round(rng.uniform(0, 300, n) * (rng.random(n) < 0.4))
    build = (rng.random(n) < 0.5).astype(float)
    year = rng.normal(size=n)
    end = np.round(entry + 20 + rng.weibull(1.8, n) * 500 * np.exp(0.6 * build - 0.2 * year), -1)
    return entry, end, rng.random(n) < 0.6, build, year


def efron_score(entry, end, failed, x, b):
    """Return the slopes of the partial log-likelihood at `b`."""
    risk = [mp.exp(sum(c * mp.mpf(float(v)) for c, v in zip(b, row, strict=True))) for row in x]
    slope = [mp.mpf(0)] * len(b)
    for t in sorted(set(end[failed])):
        dead = [i for i in range(len(end)) if failed[i] and end[i] == t]
        seen = [i for i in range(len(end)) if entry[i] < t <= end[i]]
        for j in range(len(dead)):
            share = mp.mpf(j) / len(dead)
            whole = sum(risk[i] for i in seen) - share * sum(risk[i] for i in dead)
            for m in range(len(b)):
                part = sum(risk[i] * float(x[i][m]) for i in seen)
                part -= share * sum(risk[i] * float(x[i][m]) for i in dead)
                slope[m] += mp.mpf(float(x[dead[j]][m])) - part / whole
    return slope


def root(score, start):
    with mp.workdps(40):
        found = mp.findroot(lambda *b: score(b), [mp.mpf(float(s)) for s in start], tol=1e-50)
        return [float(v) for v in found]


@pytest.mark.parametrize("seed", [59, 146])
def test_proportional_hazards_with_late_entry(seed: int) -> None:
    entry, end, failed, build, year = late_fleet(seed)
    spells = Spells.of(entry, end, failed)
    fit = fit_proportional(spells, build_covariates(spells, {"build": build, "year": year}))
    got = [r.coef for r in fit.ratios]
    x = np.column_stack([build, year])
    want = root(lambda b: efron_score(entry, end, failed, x, b), got)
    assert got == pytest.approx(want, rel=CLOSE)


def test_gehan_proportional_hazards() -> None:
    t = numbers("more/gehan.csv")  # many ties
    end, failed, x = t["weeks"], t["relapse"] == 1, t["treated"][:, None]
    spells = Spells.of(0.0, end, failed)
    fit = fit_proportional(spells, build_covariates(spells, {"treated": t["treated"]}))
    want = root(lambda b: efron_score(np.zeros(len(end)), end, failed, x, b), [fit.ratios[0].coef])
    assert fit.ratios[0].coef == pytest.approx(want[0], rel=CLOSE)


def weibull_score(entry, end, failed, x, b):
    """Return slopes in (coefficients, log shape) of ``exp(-x b)`` times hours at a shape."""
    *coef, log_shape = b
    shape = mp.exp(log_shape)
    slope = [mp.mpf(0)] * len(b)
    for start, stop, dead, row in zip(entry, end, failed, x, strict=True):
        eta = sum(c * mp.mpf(float(v)) for c, v in zip(coef, row, strict=True))
        for t, sign in ((stop, -1), (start, 1)):
            if t > 0:
                z = shape * (mp.log(mp.mpf(float(t))) - eta)
                for m, v in enumerate(row):
                    slope[m] += sign * mp.exp(z) * -shape * mp.mpf(float(v))
                slope[-1] += sign * mp.exp(z) * z
        if dead:
            z = shape * (mp.log(mp.mpf(float(stop))) - eta)
            for m, v in enumerate(row):
                slope[m] -= shape * mp.mpf(float(v))
            slope[-1] += 1 + z
    return slope


@pytest.mark.parametrize("seed", [12, 107])
def test_accelerated_life_with_late_entry(seed: int) -> None:
    entry, end, failed, build, year = late_fleet(seed)
    x = np.column_stack([np.ones(len(end)), build, year])
    fit = solve_accelerated(Problem.of(Spells.of(entry, end, failed)), x)
    got = [*fit.coef, float(np.log(fit.shape))]
    want = root(lambda b: weibull_score(entry, end, failed, x, b), got)
    assert got == pytest.approx(want, rel=CLOSE)


def test_gehan_accelerated_life() -> None:
    t = numbers("more/gehan.csv")
    end, failed = t["weeks"], t["relapse"] == 1
    x = np.column_stack([np.ones(len(end)), t["treated"]])
    fit = solve_accelerated(Problem.of(Spells.of(0.0, end, failed)), x)
    got = [*fit.coef, float(np.log(fit.shape))]
    want = root(lambda b: weibull_score(np.zeros(len(end)), end, failed, x, b), got)
    assert got == pytest.approx(want, rel=CLOSE)


def bench_runs(seed: int) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    stress = np.repeat([10.0, 14.0, 20.0], 5)
    life = rng.weibull(2.0, 15) * 1e4 * (stress / 10.0) ** -5
    return stress, life, rng.random(15) < 0.8


@pytest.mark.parametrize("seed", [67, 72])
def test_stress_life(seed: int) -> None:
    # the power law is accelerated life with log stress as its covariate
    stress, life, failed = bench_runs(seed)
    fit = fit_stress_life(StressRuns.of(stress, life, failed))
    got = [fit.intercept, fit.slope, float(np.log(fit.shape))]
    x = np.column_stack([np.ones(15), np.log(stress)])
    want = root(lambda b: weibull_score(np.zeros(15), life, failed, x, b), got)
    assert got == pytest.approx(want, rel=CLOSE)
