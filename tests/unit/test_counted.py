"""Failures counted: what they leave of the engines, and that a small source is contradicted too.

Exact binomial limits: Clopper & Pearson (1934), here by scipy's own test (`binomtest`).
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from scipy.stats import binomtest

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.judge import BY_COUNT, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.counted import COUNTED, counted_high
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit

CLAIM_H, ACCEPTED = 1000.0, 0.1
SETTINGS = made_settings(claim=CLAIM_H, targets={"accepted_failure_at_claim": ACCEPTED})


def small(failed: int, live: int = 2) -> Spells:
    """Return a source of which some failed young and a few run past the claim."""
    stop = np.concatenate([300.0 + 100.0 * np.arange(failed), np.full(live, 1100.0)])
    return Spells.of(0.0, stop, np.arange(failed + live) < failed)


def asked(spells: Spells) -> Quoter:
    return Quoter.of(spells, try_fit(spells), SETTINGS)


@pytest.mark.parametrize(("failed", "live"), [(1, 5), (4, 2), (3, 40)])
def test_the_edge_by_count_is_the_exact_binomial_limit(failed: int, live: int) -> None:
    edge = counted_high(Settled.of_spells(small(failed, live)), Quantity.reliability(CLAIM_H), 0.95)
    exact = binomtest(failed, failed + live, alternative="greater").proportion_ci(0.95)
    assert edge == pytest.approx(1.0 - exact.low, rel=1e-9)


def test_a_source_too_small_to_reach_the_claim_is_contradicted_and_says_how() -> None:
    lives = asked(small(4))
    judged = judge_claim(lives, CLAIM_H, 1.0 - ACCEPTED)
    assert judged.reach_h == 0.0
    assert judged.extrapolated
    assert judged.word == "contradicted"
    assert judged.because == BY_COUNT
    exact = binomtest(4, 6, alternative="greater").proportion_ci(0.975)
    assert judged.failure_low == pytest.approx(exact.low, rel=1e-9)
    verdict = advise_hours(lives.spells, lives.fit, SETTINGS, curves=False).verdict
    claim = advise_claim(lives.spells, SETTINGS, fit=lives.fit)
    assert verdict is not None
    assert verdict.word == claim.state == "contradicted"
    assert "at least 22 % do" in verdict.sentence
    assert "already" not in verdict.sentence
    assert "by 1,000 h, whatever the law of life" in claim.may_quote


def test_one_failure_of_six_contradicts_nothing() -> None:
    judged = judge_claim(asked(small(1, 5)), CLAIM_H, 1.0 - ACCEPTED)
    assert judged.word == "not-yet-shown"


def test_no_curve_is_kinder_than_the_failures_counted() -> None:
    stop = np.concatenate([np.full(12, 1000.0), np.full(18, 1200.0)])
    fleet = Spells.of(0.0, stop, np.arange(30) < 12)
    out = asked(fleet).interval(Quantity.reliability(CLAIM_H))
    most = 1.0 - binomtest(12, 30, alternative="greater").proportion_ci(0.975).low
    assert out.high == pytest.approx(most, rel=1e-9)
    assert out.note_high == COUNTED
    assert out.estimate is not None
    assert out.low is not None
    assert out.low <= out.estimate <= out.high


def test_failures_at_one_age_are_not_called_too_few() -> None:
    stop = np.concatenate([np.full(12, 1000.0), np.linspace(100.0, 990.0, 40)])
    fleet = Spells.of(0.0, stop, np.arange(52) < 12)
    advice = advise_hours(fleet, try_fit(fleet), SETTINGS, curves=False)
    assert advice.reliability.life is not None
    assert advice.reliability.life.high == 1000.0
    assert "may lie at one age" in advice.reliability.sentence
    assert "too few" not in repr(advice)
    assert advice.overhaul_band.state == "evidence-limit"


def test_a_failure_known_to_lie_between_counts_where_that_is_careful() -> None:
    """It may lie after the claim: then it contradicts nothing, and yet may have come before it."""
    stop, good = np.full(6, 1100.0), np.array([900.0] * 4 + [1100.0] * 2)
    lives = Spells.of(0.0, stop, np.arange(6) < 4, exit_lower=good)
    settled = Settled.of_spells(lives)
    at = np.array([CLAIM_H, 1100.0])
    exact = binomtest(4, 6, alternative="greater").proportion_ci(0.95)
    assert settled.failure_low(at, 0.95) == pytest.approx([0.0, exact.low])
    most = binomtest(4, 6, alternative="less").proportion_ci(0.95)
    assert settled.failure_high(at[:1], 0.95) == pytest.approx([most.high])
    assert counted_high(settled, Quantity.reliability(CLAIM_H), 0.95) is None
    assert counted_high(settled, Quantity.life(0.1), 0.95) == 1100.0


def test_lives_of_which_nothing_is_known_but_a_failure_before_an_age_settle_nothing() -> None:
    lives = Spells.of(0.0, np.full(3, 500.0), np.ones(3, bool), exit_lower=np.zeros(3))
    settled = Settled.of_spells(lives)
    assert settled.failure_high(np.array([400.0]), 0.95) == pytest.approx([1.0])
    assert settled.n_settled(400.0) == 0.0
    exact = binomtest(3, 3, alternative="greater").proportion_ci(0.95)
    assert settled.failure_low(np.array([400.0, 500.0]), 0.95) == pytest.approx([0.0, exact.low])
