"""The delay-time likelihood worked out by hand for one life at a time.

With faults at a steady rate a, exponential delay at rate m, one check at c that finds with chance
r, the terms have closed forms:

- fails at t, no check:        a m / (a - m) * (exp(-m t) - exp(-a t))
- fails at t, check at c < t:  onset after c: a m exp(-a c) / (a - m) * (exp(-m s) - exp(-a s)),
  s = t - c; onset before c, missed: (1 - r) * a m / (a - m) * (exp(-(a - m) 0) - ...), that is
  (1 - r) m exp(-m t) * a / (a - m) * (1 - exp(-(a - m) c))
- found at the only check c:   r a / (a - m) * (exp(-m c) - exp(-a c))
- clean to t without a check:  exp(-a t) + a / (a - m) * (exp(-m t) - exp(-a t))
"""

import math
from itertools import pairwise

import numpy as np
import pytest

from fleetstats.core.errors import FitError, SpellError
from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, CheckLives, DelayModel, slip_share
from fleetstats.survival.delay.delay_fit import fit_delay
from fleetstats.survival.delay.delay_likelihood import delay_part, log_likelihood, prepare_delay

A, M, R = 1 / 800, 1 / 150, 0.7
T, C = 430.0, 370.0


def value(lives, *, mean_h=1 / M, shape=1.0, detection=R, arrival_shape=1.0, rate=A, unseen=0.0):
    pre = prepare_delay(lives, detection_low=detection)
    part = delay_part(pre, mean_h, shape, detection, unseen)
    faults = (rate * pre.horizon_h) ** arrival_shape
    return log_likelihood(pre, part, math.log(faults), math.log(arrival_shape))[0]


def one(kind, checks, *, start=0.0, entry=0.0, end=T):
    return CheckLives.of([("e", start, entry, end, kind, checks, False, "")])


def test_failed_without_a_check():
    want = A * M / (A - M) * (math.exp(-M * T) - math.exp(-A * T))
    assert value(one(FAILED, [])) == pytest.approx(math.log(want), rel=1e-6)


def test_a_share_without_warning_fails_as_it_arises():
    """Failed: (1 - v) times the term with a delay, and v times the onset's density; the rest as
    before with 1 - v, and a life that is clean has no such fault behind it."""
    v = 0.3
    slow = A * M / (A - M) * (math.exp(-M * T) - math.exp(-A * T))
    want = (1 - v) * slow + v * A * math.exp(-A * T)
    assert value(one(FAILED, []), unseen=v) == pytest.approx(math.log(want), rel=1e-6)
    found = (1 - v) * R * A / (A - M) * (math.exp(-M * C) - math.exp(-A * C))
    assert value(one(FOUND, [C], end=C), unseen=v) == pytest.approx(math.log(found), rel=1e-6)
    clean = math.exp(-A * T) + (1 - v) * A / (A - M) * (math.exp(-M * T) - math.exp(-A * T))
    assert value(one(CLEAN, []), unseen=v) == pytest.approx(math.log(clean), rel=1e-6)


def test_failed_past_a_check_that_missed_it():
    s = T - C
    late = A * M * math.exp(-A * C) / (A - M) * (math.exp(-M * s) - math.exp(-A * s))
    early = (1 - R) * M * math.exp(-M * T) * A / (A - M) * (1 - math.exp(-(A - M) * C))
    assert value(one(FAILED, [C])) == pytest.approx(math.log(late + early), rel=1e-6)


def test_found_at_a_check():
    want = R * A / (A - M) * (math.exp(-M * C) - math.exp(-A * C))
    assert value(one(FOUND, [C], end=C)) == pytest.approx(math.log(want), rel=1e-6)


def test_clean_with_delayed_entry_divides_the_chance_of_coming_to_entry():
    def stay(t):
        return math.exp(-A * t) + A / (A - M) * (math.exp(-M * t) - math.exp(-A * t))

    got = value(one(CLEAN, [], entry=200.0))
    assert got == pytest.approx(math.log(stay(T) / stay(200.0)), rel=1e-6)


@pytest.mark.parametrize("kind", [CLEAN, FAILED, FOUND])
@pytest.mark.parametrize(
    ("shape", "arrival"), [(1.0, 1.8), (2.2, 1.0), (1.6, 2.5), (0.5, 1.0), (0.7, 1.8)]
)
def test_weibull_terms_against_quadrature(kind, shape, arrival):
    from scipy.integrate import quad

    scale = 150.0 / math.gamma(1 + 1 / shape)
    checks, end = [90.0, 140.0, 215.0, 260.0], 260.0 if kind == FOUND else 300.0

    def onset(u):
        return A * arrival * (A * u) ** (arrival - 1) * math.exp(-((A * u) ** arrival))

    def delay(h):
        s = math.exp(-((h / scale) ** shape))
        return s if kind != FAILED else s * shape / scale * (h / scale) ** (shape - 1)

    missing = checks[:-1] if kind == FOUND else checks
    edges = [0.0, *missing, end]
    total = 0.0
    for lo, hi in pairwise(edges):
        k = sum(c >= hi for c in missing)
        total += (1 - R) ** k * quad(lambda u: onset(u) * delay(end - u), lo, hi)[0]
    if kind == CLEAN:
        total += math.exp(-((A * end) ** arrival))
    if kind == FOUND:
        total *= R
    got = value(one(kind, checks, end=end), mean_h=150.0, shape=shape, arrival_shape=arrival)
    # Arrival as a power of age that is not whole is not smooth at age 0.
    assert got == pytest.approx(math.log(total), abs=2e-5)


def test_the_slope_is_that_of_the_value():
    lives = CheckLives.of(
        [
            ("a", 0.0, 0.0, 400.0, FAILED, [60.0, 120.0, 350.0], False, "m"),
            ("b", 0.0, 150.0, 500.0, CLEAN, [100.0, 300.0], False, ""),
            ("c", 50.0, 60.0, 300.0, FOUND, [100.0, 300.0], False, "m"),
        ]
    )
    pre = prepare_delay(lives, detection_low=R)
    part = delay_part(pre, 150.0, 1.0, R, 0.2)
    x, step = np.array([-0.4, 0.3]), 1e-6
    slope = log_likelihood(pre, part, *x)[1]
    for i in range(2):
        up, down = x.copy(), x.copy()
        up[i] += step
        down[i] -= step
        rise = log_likelihood(pre, part, *up)[0] - log_likelihood(pre, part, *down)[0]
        assert slope[i] == pytest.approx(rise / (2 * step), rel=1e-5)


def test_failures_between_perfect_checks_are_rate_times_the_integral_of_the_delay():
    """Christer & Waller (1984), steady arrivals: E N(T) = rate * integral of F_H over (0, T)."""
    from scipy.integrate import quad

    for shape in (1.0, 2.5):
        model = DelayModel(
            faults_to_horizon=2.0,
            horizon_h=1000.0,
            arrival_shape=1.0,
            mean_delay_h=120.0,
            delay_shape=shape,
            detection=1.0,
        )
        scale = 120.0 / math.gamma(1 + 1 / shape)
        for t in (25.0, 50.0, 200.0):
            area = quad(lambda h: -math.expm1(-((h / scale) ** shape)), 0, t)[0]  # noqa: B023
            assert model.failures_per_interval(t) == pytest.approx(0.002 * area, rel=1e-9)


def test_slip_runs_from_none_to_all():
    assert slip_share(50.0, math.inf)[0] == 0.0
    assert slip_share(50.0, 1e7, detection=0.6)[0] < 1e-4
    assert slip_share(50.0, 1e-3)[0] > 0.9999
    with pytest.raises(FitError, match="detection 0"):
        slip_share(50.0, 100.0, detection=0.0)


def test_lives_out_of_order_are_refused():
    with pytest.raises(SpellError, match="out of order"):
        one(CLEAN, [300.0, 200.0])
    with pytest.raises(SpellError, match="no check is recorded"):
        one(FOUND, [300.0])
    with pytest.raises(FitError, match="No fault"):
        fit_delay(one(CLEAN, [300.0]), detection=0.8)
