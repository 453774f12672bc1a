"""What must hold for the laws of the warning time that are averaged."""

import math

import numpy as np
import pytest
from condition_sims import check_lives

from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, CheckLives, slip_share
from fleetstats.survival.delay.delay_fit import fit_delay
from fleetstats.survival.delay.delay_fitted import LAWS_WIDER
from fleetstats.survival.delay.delay_laws import EXPONENTIAL, UNSEEN, WEIBULL
from fleetstats.survival.delay.delay_likelihood import prepare_delay
from fleetstats.survival.delay.delay_profile import refit_arrival
from fleetstats.survival.delay.delay_slip import slip_shares
from fleetstats.survival.delay.delay_surface import lay_surface

AT = np.array([25.0, 50.0, 100.0])


@pytest.fixture(scope="module")
def lives():
    return check_lives(np.random.default_rng(1), n=60)


@pytest.fixture(scope="module")
def fit(lives):
    return fit_delay(lives, detection=0.8)


@pytest.mark.parametrize("arrival", ["steady", "weibull"])
def test_the_surface_is_the_exact_refit(lives, arrival):
    """Height, faults and their error, and the same at an age, against one refit each."""
    pre = prepare_delay(lives, detection_low=0.8)
    at_h = 900.0 if arrival == "weibull" else None
    best = refit_arrival(pre, 120.0, 1.0, 0.8, arrival, (0.0, 0.0), None, at_h)
    surface = lay_surface(pre, best, 0.8, arrival, at_h)
    shares = np.array([0.0, 0.1, 0.3])
    for mean, shape in ((50.0, 2.0), (60.0, 0.5), (120.0, 1.0), (300.0, 1.0), (math.inf, 1.0)):
        for row in surface.rows(mean, shape, 0.8, shares, None):
            exact = refit_arrival(
                pre, mean, shape, 0.8, arrival, (best[3], math.log(best[5])), None, at_h, row[8]
            )
            assert row[2] == pytest.approx(exact[2], abs=0.02), (mean, shape, row[8])
            assert row[3:] == pytest.approx(exact[3:], abs=0.04), (mean, shape, row[8])


@pytest.mark.parametrize("detection", [0.6, 1.0])
@pytest.mark.parametrize("shape", [0.5, 1.0, 4.0])
def test_the_table_of_shares_is_the_formula(shape, detection):
    means = np.array([3.0, 70.0, 900.0, math.inf])
    got = slip_shares(AT, means, np.full(4, shape), np.array([0.0, 0.0, 0.25, 0.25]), detection)
    for row, mean, v in zip(got, means, (0.0, 0.0, 0.25, 0.25), strict=True):
        want = v + (1 - v) * slip_share(AT, mean, shape=shape, detection=detection)
        assert row == pytest.approx(want, rel=1e-3, abs=1e-9)


def test_weights_add_up_and_the_estimate_is_their_mean(fit):
    assert [x.law for x in fit.laws] == [EXPONENTIAL, WEIBULL, UNSEEN]
    assert sum(x.weight for x in fit.laws) == pytest.approx(1.0)
    mean = sum(x.weight * x.model.slip(AT) for x in fit.laws)
    assert fit.slip(AT) == pytest.approx(mean, rel=1e-12)
    # One free number more costs at least 2 in AICc: alike in height, the simplest weighs most.
    assert fit.laws[0].weight > fit.laws[2].weight or (
        fit.laws[2].log_likelihood > fit.laws[0].log_likelihood + 1.0
    )


def test_a_law_that_holds_the_exponential_has_limits_at_least_as_wide(fit):
    low, high = fit.slip_limits_of(EXPONENTIAL, AT, 0.90)
    for law in (WEIBULL, UNSEEN):
        wide_low, wide_high = fit.slip_limits_of(law, AT, 0.90)
        assert np.all(wide_low <= low)
        assert np.all(wide_high >= high)
    a, b = fit.slip_limits(AT, 0.90)
    parts = [fit.slip_limits_of(x, AT, 0.90) for x in (WEIBULL, UNSEEN)]
    assert a == pytest.approx(np.min([p[0] for p in parts], axis=0))
    assert b == pytest.approx(np.max([p[1] for p in parts], axis=0))


def test_the_records_speak_at_their_own_interval_whatever_the_law(lives, fit):
    one = fit_delay(lives, detection=0.8, delay="exponential")
    (a, b), (c, d) = fit.slip_limits(AT, 0.90), one.slip_limits(AT, 0.90)
    # Wider by the factor of averaged laws, which widens a limit by its root, and little more.
    assert (b - a)[1] < 1.10 * math.sqrt(LAWS_WIDER) * (d - c)[1]
    # An exponential that is not ruled out keeps its own limits: more laws never narrow them.
    assert np.all(a <= c + 1e-9)
    assert np.all(b >= d - 1e-9)
    wider = (b - a) / (d - c)
    assert wider[1] < 0.95 * min(wider[0], wider[2])


def test_the_share_that_is_never_seen_is_bounded_by_the_share_that_failed():
    """No failure among n faults: at most 3 / n can be unseen, at any interval (exact binomial)."""
    rng = np.random.default_rng(8)
    lives = check_lives(rng, n=40, faults_per_h=1 / 4000, mean_h=5000.0, detection=1.0, late=0.0)
    assert lives.n_failed == 0
    fit = fit_delay(lives, detection=1.0)
    high = fit.slip_limits(np.array([1.0, 50.0]), 0.90)[1]
    limit = 1.0 - 0.05 ** (1.0 / lives.n_found)
    wider = 1.0 - 0.05 ** (LAWS_WIDER / lives.n_found)  # the exact limit at a cut so much wider
    # The grid of shares is stepped: the limit lies on it or just above the last one within.
    assert np.all(high > 0.6 * limit)
    assert high[0] < 1.05 * wider
    assert fit.unseen_limits(0.90) == (0.0, pytest.approx(limit, rel=0.05))


def test_a_share_that_is_never_seen_is_found_where_faults_are_many():
    """A third of faults fail at once and the rest warn for ten intervals: the records tell."""
    rng, rows = np.random.default_rng(5), []
    for i in range(400):
        onset, seen = rng.exponential(900.0), rng.random() > 1 / 3
        check = 50.0 * math.ceil(onset / 50.0)
        fails = onset + (rng.exponential(500.0) if seen else 0.0)
        stop = min(fails, check, 1500.0)
        kind = CLEAN if stop == 1500.0 else FAILED if fails < check else FOUND
        due = np.arange(50.0, stop + 1e-9, 50.0)
        rows.append((f"e{i}", 0.0, 0.0, stop, kind, due, False, "m" if kind else ""))
    low, high = fit_delay(CheckLives.of(rows), detection=1.0).unseen_limits(0.90)
    assert 0.1 < low < 1 / 3 < high < 0.45


def test_laws_that_never_show_need_no_mean_at_all() -> None:
    """A shape all of whose laws have no finite mean: the share is that without any warning."""
    hours, endless = np.array([25.0, 50.0]), np.array([np.inf, np.inf])
    got = slip_shares(hours, endless, np.array([1.0, 2.0]), np.array([0.0, 0.25]), 0.9)
    assert got.tolist() == [[0.0, 0.0], [0.25, 0.25]]
