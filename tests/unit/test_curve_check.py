"""Failures seen and expected near a claim: the sums, the fairness of both tests, their power."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival import fit_weibull
from fleetstats.survival.families.curve_check import CurveCheck, check_curve

CLAIM_H = 1000.0
GRID_H = np.concatenate([[0.0], np.geomspace(0.5, 20000.0, 4000)])


def weibull(t: Array) -> Array:
    return np.asarray(0.105 * (t / CLAIM_H) ** 2.5)


def bathtub(t: Array) -> Array:
    return np.asarray(0.053 * (t / CLAIM_H) ** 0.5 + 0.053 * (t / CLAIM_H) ** 6)


def weak_share(t: Array) -> Array:
    """A tenth wears out around 600 h, the rest around 3,500 h."""
    weak, strong = np.exp(-((t / 673.0) ** 3)), np.exp(-((t / 3928.0) ** 4))
    return np.asarray(-np.log(0.1 * weak + 0.9 * strong))


def fleet(seed: int, hazard: Callable[[Array], Array], n: int = 250, top_h: float = 2200) -> Spells:
    """Return engines of which four in ten were heard of late, from any cumulative hazard."""
    rng = np.random.default_rng(seed)
    h = hazard(GRID_H)
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0.0, 600.0, n), 0.0)
    stop = np.maximum(entry + 50.0, rng.uniform(200.0, top_h, n))
    life = np.interp(np.interp(entry, GRID_H, h) + rng.standard_exponential(n), h, GRID_H)
    return Spells.of(entry, np.minimum(life, stop), life <= stop)


def check(seed: int, hazard: Callable[[Array], Array], n: int = 250) -> CurveCheck:
    return check_curve(fit_weibull(fleet(seed, hazard, n)), CLAIM_H, seed=seed)


def doubted(seed: int, hazard: Callable[[Array], Array], n: int) -> bool:
    """Return whether the caution is given; without a failure there is no curve to doubt."""
    return bool(fleet(seed, hazard, n).n_failed >= 2 and check(seed, hazard, n).doubted)


def test_expected_by_the_claim_is_the_hazard_gone_through() -> None:
    """By hand: the sum over lives of H(min(end, claim)) - H(min(entry, claim))."""
    s = fleet(1, weibull)
    fit = fit_weibull(s)
    found = check_curve(fit, CLAIM_H)
    by_hand = fit.cumulative_hazard(np.minimum(s.exit_upper, CLAIM_H)) - fit.cumulative_hazard(
        np.minimum(s.entry, CLAIM_H)
    )
    assert found.n_expected[0] == pytest.approx(float(by_hand.sum()), rel=1e-9)
    assert found.n_failed[0] == float((s.failed & (s.exit_upper <= CLAIM_H)).sum())
    assert (found.low_h[1], found.high_h[1]) == (500.0, 1000.0)


def test_both_tests_are_one_figure() -> None:
    found = check(2, weibull)
    assert found.p_near is not None
    assert found.goodness.p_value is not None
    assert found.p_value == min(1.0, 2.0 * min(found.p_near, found.goodness.p_value))


def test_without_hours_or_failures_there_is_no_test_near_them() -> None:
    s = fleet(3, weibull)
    assert check_curve(fit_weibull(s)).p_near is None
    assert check_curve(fit_weibull(s), 1e5).p_near is None
    few = s.replace(event=np.where(np.cumsum(s.failed) <= 4, s.event, 0))
    assert few.n_failed == 4
    assert check_curve(fit_weibull(few), CLAIM_H).p_value is None


def test_one_seed_gives_one_answer() -> None:
    assert check(4, weibull).p_near == check(4, weibull).p_near


@pytest.mark.parametrize(
    ("n", "fleets"),
    [(60, 100), (250, 100), pytest.param(60, 1500, marks=pytest.mark.slow),
     pytest.param(250, 1500, marks=pytest.mark.slow)],
)  # fmt: skip
def test_false_alarms_are_at_most_one_in_twenty(n: int, fleets: int) -> None:
    """Over both tests together, within three binomial errors; Weibull lives."""
    share = np.mean([doubted(i, weibull, n) for i in range(fleets)])
    assert share <= 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / fleets)


def test_a_bathtub_and_a_weak_share_are_seen() -> None:
    """Measured with 300 fleets: 96 and 60 of 100; here 40 fleets, three binomial errors below."""
    bath = np.mean([check(i, bathtub).doubted for i in range(40)])
    weak = np.mean([check(i, weak_share).doubted for i in range(40)])
    assert bath > 0.85
    assert weak > 0.3
