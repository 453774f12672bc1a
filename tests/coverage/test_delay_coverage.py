"""Do the limits of the slip share hold the truth? Simulated fleets with stated truth.

One-sided 95 % limits (level 0.90), detection known, delayed entry in a third of the fleet. With
few failures the limits are cut at exact binomial limits and hold more than they say. Full run
(slow): 300 fleets a cell.
"""

import numpy as np
import pytest
from condition_sims import check_lives

from fleetstats.core.seeds import stream
from fleetstats.survival.delay.delay import slip_share
from fleetstats.survival.delay.delay_fit import fit_delay

EVERY = np.array([50.0])


def coverage(n_fleets, *, n, faults_per_h, mean_h):
    truth = float(slip_share(EVERY, mean_h, detection=0.8)[0])
    low = high = used = 0
    means = []
    for i in range(n_fleets):
        rng = stream(71, f"delay-{n}-{mean_h}", i)
        lives = check_lives(
            rng, n=n, faults_per_h=faults_per_h, mean_h=mean_h, to_h=(300.0, 1000.0)
        )
        if lives.n_found + lives.n_failed == 0:
            continue
        fit = fit_delay(lives, detection=0.8, grid=14)
        a, b = fit.slip_limits(EVERY, 0.90)
        used += 1
        low += a[0] <= truth
        high += b[0] >= truth
        means.append(np.log(fit.model.mean_delay_h))
    return low / used, high / used, np.exp(np.median(means)), used


def test_limits_hold_and_the_truth_is_recovered():
    low, high, mean, used = coverage(16, n=60, faults_per_h=1 / 700, mean_h=120.0)
    slack = 3 * np.sqrt(0.05 * 0.95 / used)
    assert low >= 0.95 - slack
    assert high >= 0.95 - slack
    assert mean == pytest.approx(120.0, rel=0.25)


def coverage_at_age(n_fleets, *, n, arrival_shape, at_h=1200.0):
    """Limits of failures between two checks at an age, where faults come faster with age."""
    rate = arrival_shape * (at_h / 1500.0) ** (arrival_shape - 1.0) / 1000.0
    truth = 50.0 * rate * float(slip_share(EVERY, 120.0, detection=0.8)[0])
    low = high = 0
    for i in range(n_fleets):
        lives = check_lives(
            stream(72, f"delay-age-{n}-{arrival_shape}", i), n=n, faults_per_h=1 / 1000,
            mean_h=120.0, to_h=(300.0, 1500.0), arrival_shape=arrival_shape,
        )  # fmt: skip
        fit = fit_delay(lives, detection=0.8, arrival="weibull", grid=14, at_h=at_h)
        a, b = fit.limits(lambda r, s: 50.0 * r * s, EVERY, 0.90, at_age=True)
        low += a[0] <= truth
        high += b[0] >= truth
    return low / n_fleets, high / n_fleets


def test_limits_hold_at_an_age_where_faults_come_faster():
    low, high = coverage_at_age(12, n=60, arrival_shape=2.5)
    slack = 3 * np.sqrt(0.05 * 0.95 / 12)
    assert low >= 0.95 - slack
    assert high >= 0.95 - slack


@pytest.mark.slow
@pytest.mark.parametrize(("n", "arrival_shape"), [(40, 1.5), (60, 2.5), (200, 2.5)])
def test_limits_hold_at_an_age_over_many_fleets(n, arrival_shape):
    low, high = coverage_at_age(200, n=n, arrival_shape=arrival_shape)
    print(f"{n} engines, arrival shape {arrival_shape:g}: low {low:.3f}, high {high:.3f}")
    slack = 3 * np.sqrt(0.05 * 0.95 / 200)
    assert low >= 0.95 - slack
    assert high >= 0.95 - slack


@pytest.mark.slow
@pytest.mark.parametrize(
    ("n", "faults_per_h", "mean_h"),
    [
        (40, 1 / 4000, 60.0),
        (40, 1 / 4000, 250.0),
        (60, 1 / 1500, 60.0),
        (60, 1 / 1500, 250.0),
        (200, 1 / 1500, 120.0),
    ],
)
def test_limits_hold_over_few_and_many_faults(n, faults_per_h, mean_h):
    low, high, _, used = coverage(300, n=n, faults_per_h=faults_per_h, mean_h=mean_h)
    print(f"{n} engines, rate {faults_per_h:.2g}, mean {mean_h:g}: low {low:.3f}, high {high:.3f}")
    slack = 3 * np.sqrt(0.05 * 0.95 / used)
    assert low >= 0.95 - slack
    assert high >= 0.95 - slack
