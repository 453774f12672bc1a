"""A stated doubt of the clocks widens quoted edges, never betters one, and says what it moved."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from advice_fleets import made_settings
from scipy.special import ndtri

from fleetstats.advice.clock_doubt.draws import careful_factors, draw_clocks
from fleetstats.advice.clock_doubt.held import hold_to_clocks
from fleetstats.advice.clock_doubt.widen import BoundTable
from fleetstats.advice.left_out import reliability_low_with_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.clock_doubt.chapter import weigh_clocks
from fleetstats.chapters.clock_doubt.section import compose_clock_doubt
from fleetstats.spells import Spells
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

AT = Quantity.reliability(1000.0)
LIFE = Quantity.life(0.1)


@pytest.fixture(scope="module")
def fleet():
    rng = np.random.default_rng(1)
    life, seen = 2500.0 * rng.weibull(3.0, 120), rng.uniform(300.0, 2000.0, 120)
    return Spells.of(np.zeros(120), np.minimum(life, seen), life < seen)


def asked(fleet, **clocks):
    settings = dataclasses.replace(made_settings(claim=1000.0), clocks=ClockKeys(**clocks))
    return Quoter.of(fleet, try_fit(fleet), settings)


def test_normal_errors_of_estimate_and_clock_add_as_variances(fleet):
    """Log life known with error v, log clock with w: the edge lies at the root of v + w.

    By hand: with slope b the edge of the log cumulative hazard at log age x is b (x - m) + z b v;
    mixed over x - w Z it is b (x - m) + z b sqrt(v^2 + w^2).
    """
    b, m, v, w = 3.0, 7.5, 0.12, 0.10
    z = float(ndtri(0.95))
    draws = draw_clocks(fleet, ClockKeys(doubt=w), 1)
    ages = np.linspace(6.0, 8.0, 9)
    for upper, sign in ((True, 1.0), (False, -1.0)):
        table = BoundTable.of(
            lambda c, h, s=sign: b * (math.log(h) - m) + s * float(ndtri(c)) * b * v,
            0.95, ages, upper=upper,
        )  # fmt: skip
        want = b * (6.9 - m) + sign * z * b * math.hypot(v, w)
        assert table.mixed(draws, z, 6.9) == pytest.approx(want, abs=0.03)


def test_without_doubt_nothing_changes(fleet):
    lives = asked(fleet)
    for what in (AT, LIFE):
        assert hold_to_clocks(lives, what) == lives.sure(what)
    assert careful_factors(fleet, ClockKeys(), 0.95, np.array([500.0])) == 1.0


def test_no_edge_is_better_and_more_doubt_is_no_better(fleet):
    before = [asked(fleet).interval(x) for x in (AT, LIFE)]
    for doubt in (0.05, 0.15):
        now = [asked(fleet, doubt=doubt).interval(x) for x in (AT, LIFE)]
        for a, b in zip(now, before, strict=True):
            # A count of engines steps with age: where it is quoted, a small doubt moves nothing.
            assert a.low <= b.low
            assert a.high > b.high
            assert a.estimate == b.estimate
        before = now
    for a, x in zip(now, (AT, LIFE), strict=True):
        assert a.low < asked(fleet).interval(x).low
        assert "clocks in doubt" in a.note_low


def test_a_life_and_the_claim_at_its_hours_agree(fleet):
    lives = asked(fleet, doubt=0.1)
    low = lives.interval(LIFE).low
    assert lives.interval(Quantity.reliability(low)).low == pytest.approx(0.9, abs=1e-6)
    # A plan asks the same of a fleet that is not yet there.
    plan = reliability_low_with_left_out(fleet, lives.settings, 1000.0, 0.95)
    assert plan == pytest.approx(lives.interval(AT).low, abs=0.003)


def test_errors_of_each_engine_nearly_cancel_and_common_ones_do_not(fleet):
    plain = asked(fleet).interval(AT).low
    alone, half, common = (
        asked(fleet, doubt=0.1, together=x).interval(AT).low for x in (0.0, 0.5, 1.0)
    )
    assert common < half < alone <= plain
    assert plain - alone < 0.5 * (plain - common)


def test_the_report_says_what_the_doubt_moved(fleet):
    sure = asked(fleet)
    target = sure.interval(AT).low - 0.005
    settings = dataclasses.replace(
        made_settings(claim=1000.0, targets={"accepted_failure_at_claim": 1.0 - target}),
        clocks=ClockKeys(doubt=0.1),
    )
    told = weigh_clocks(fleet, try_fit(fleet), settings)
    assert (told.sure_word, told.word) == ("supported", "not-yet-shown")
    assert told.failure_high > 1.0 - target > told.sure_failure_high
    (caution,) = told.cautions
    assert caution.code == "clocks-in-doubt"
    assert "by 10 % (log standard deviation), all the same way" in caution.text
    assert len(compose_clock_doubt(told).blocks[1].rows) == 2
    none = dataclasses.replace(settings, clocks=ClockKeys())
    assert weigh_clocks(fleet, try_fit(fleet), none) is None
