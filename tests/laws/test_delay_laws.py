"""What must hold for every fleet under checks."""

import dataclasses
import math

import numpy as np
import pytest
from condition_sims import check_lives

from fleetstats.survival.delay.delay import CLEAN, CheckLives, slip_share
from fleetstats.survival.delay.delay_fit import fit_delay
from fleetstats.survival.delay.delay_likelihood import delay_part, log_likelihood, prepare_delay
from fleetstats.survival.delay.delay_limits import exact_share


def test_splitting_a_life_at_a_clean_age_changes_nothing():
    """One row to t equals a clean row to e and a row entered at e, by conditioning."""
    checks = np.array([40.0, 95.0, 150.0, 210.0])
    whole = CheckLives.of([("e", 0.0, 0.0, 260.0, 1, checks, False, "m")])
    parts = CheckLives.of(
        [
            ("e", 0.0, 0.0, 120.0, CLEAN, checks[checks <= 120.0], False, ""),
            ("e", 0.0, 120.0, 260.0, 1, checks, False, "m"),
        ]
    )
    values = []
    for lives in (whole, parts):
        pre = prepare_delay(lives, detection_low=0.5)
        pre = dataclasses.replace(pre, horizon_h=260.0)
        values.append(log_likelihood(pre, delay_part(pre, 90.0, 1.4, 0.5), -0.3, 0.2)[0])
    assert values[0] == pytest.approx(values[1], rel=1e-6)


def test_hours_times_k_give_warning_times_k_and_the_same_share():
    rng = np.random.default_rng(3)
    lives = check_lives(rng, n=50)
    k = 60.0
    scaled = CheckLives(
        unit=lives.unit,
        **{f: k * getattr(lives, f) for f in ("start_h", "entry_h", "exit_h", "check_h")},
        ending=lives.ending,
        first=lives.first,
        assumed=lives.assumed,
        mode=lives.mode,
    )
    a, b = (fit_delay(x, detection=0.8) for x in (lives, scaled))
    assert b.model.mean_delay_h == pytest.approx(k * a.model.mean_delay_h, rel=2e-3)
    assert b.model.slip(50.0 * k) == pytest.approx(a.model.slip(50.0), rel=2e-3)


@pytest.mark.parametrize("shape", [0.7, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("detection", [0.3, 0.8, 1.0])
def test_slip_rises_with_the_interval_and_falls_with_warning_and_detection(shape, detection):
    t = np.geomspace(1.0, 1000.0, 40)
    s = slip_share(t, 100.0, shape=shape, detection=detection)
    assert np.all(np.diff(s) > 0)
    assert np.all((s >= 0) & (s <= 1))
    assert np.all(slip_share(t, 150.0, shape=shape, detection=detection) <= s)
    if detection < 1.0:
        assert np.all(slip_share(t, 100.0, shape=shape, detection=detection + 0.1) <= s)


def test_a_wider_confidence_gives_wider_limits():
    lives = check_lives(np.random.default_rng(5), n=60)
    fit = fit_delay(lives, detection=0.8)
    t = np.array([25.0, 50.0, 100.0])
    narrow, wide = fit.slip_limits(t, 0.8), fit.slip_limits(t, 0.95)
    assert np.all(wide[0] < narrow[0])
    assert np.all(wide[1] > narrow[1])
    assert np.all(fit.model.slip(t) >= narrow[0] - 1e-9)
    assert np.all(fit.model.slip(t) <= narrow[1] + 1e-9)


def test_exact_limits_of_a_share():
    """Clopper & Pearson: 0 of n gives 1 - (a/2)^(1/n); success-run tables (95 %: n 59, R 0.95)."""
    assert exact_share(0, 59, 0.90)[1] == pytest.approx(1 - 0.05 ** (1 / 59), rel=1e-12)
    assert 1 - exact_share(0, 59, 0.90)[1] > 0.95 > 1 - exact_share(0, 58, 0.90)[1]
    low, high = exact_share(59, 59, 0.90)
    assert (high, low) == (1.0, pytest.approx(0.05 ** (1 / 59)))


def test_no_failure_bounds_the_share_as_the_exact_binomial_does():
    """With perfect checks the fit is a binomial: 0 of n bounds at 3 / n, not at 1.35 / n."""
    rng = np.random.default_rng(8)
    lives = check_lives(rng, n=40, faults_per_h=1 / 4000, mean_h=5000.0, detection=1.0, late=0.0)
    assert lives.n_failed == 0
    fit = fit_delay(lives, detection=1.0)
    low, high = fit.slip_limits(np.array([50.0]), 0.90)
    assert low[0] == 0.0
    exact = exact_share(0, lives.n_found, 0.90)[1]
    assert high[0] == pytest.approx(exact, rel=0.25)
    assert math.isinf(fit.model.mean_delay_h)
    assert fit.mean_limits(0.90)[1] is None


def test_limits_do_not_hang_on_the_grid_of_the_profile():
    """A coarse grid once cut the limits short: the deviance between its points was a chord."""
    lives = check_lives(np.random.default_rng(3), n=80, faults_per_h=1 / 800)
    t = np.array([50.0])
    coarse, fine = (fit_delay(lives, detection=0.8, grid=g) for g in (12, 60))
    assert coarse.mean_limits(0.90) == pytest.approx(fine.mean_limits(0.90), rel=0.02)
    assert np.ravel(coarse.slip_limits(t, 0.90)) == pytest.approx(
        np.ravel(fine.slip_limits(t, 0.90)), rel=0.02
    )
