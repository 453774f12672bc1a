"""Doubts of the clocks by kind of meter and by engine: laws of the answer, and how they are told.

Invented fleets. The laws are of logic (no outside source); influences are checked against fits of
changed hours.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.clock_doubt.doubts import engine_doubts, every_clock_right, influence
from fleetstats.advice.clock_doubt.draws import careful_factors, draw_clocks
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import worst_chance
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.clock_doubt.chapter import weigh_clocks
from fleetstats.core.errors import SpellError
from fleetstats.spells import Spells
from fleetstats.spells.tally import Tally
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

N = 80
AGES = (600.0, 1000.0, 1400.0)
SOME, NONE = np.full(N, 0.1), np.zeros(N)


def made(failed: bool = True) -> Spells:
    rng = np.random.default_rng(5)
    life, seen = 2200.0 * rng.weibull(3.0, N), rng.uniform(400.0, 2000.0, N)
    return Spells.of(
        np.zeros(N), np.minimum(life, seen) if failed else seen, (life < seen) & failed
    )


@pytest.fixture(scope="module", params=[True, False], ids=["failures", "no failure"])
def fleet(request) -> Spells:
    return made(request.param)


def asked(spells: Spells, **clocks) -> Quoter:
    settings = dataclasses.replace(made_settings(claim=1000.0), clocks=ClockKeys(**clocks))
    return Quoter.of(spells, try_fit(spells) if spells.n_failed else None, settings)


def edges(spells: Spells, **clocks) -> list[float]:
    """Lower edges, upper edges turned round, so that less is always more careful."""
    lives = asked(spells, **clocks)
    out = []
    for what in (*map(Quantity.reliability, AGES), Quantity.life(0.1)):
        told = lives.interval(what)
        out += [told.low, math.inf if told.high is None else -told.high]
    return out


def test_all_alike_is_the_one_doubt_to_the_digit(fleet):
    for together in (1.0, 0.5):
        one = edges(fleet, doubt=0.1, together=together)
        assert edges(fleet.replace(clock_sd=SOME), doubt=0.02, together=together) == one
    lives = asked(fleet.replace(clock_sd=SOME))
    h = np.array(AGES)
    assert worst_chance(lives, h).tolist() == worst_chance(asked(fleet, doubt=0.1), h).tolist()


def test_no_doubt_of_any_engine_is_no_doubt(fleet):
    assert edges(fleet.replace(clock_sd=NONE), doubt=0.3) == edges(fleet)
    assert every_clock_right(fleet) is fleet
    assert edges(every_clock_right(fleet.replace(clock_sd=SOME))) == edges(fleet)


@pytest.mark.parametrize("together", [1.0, 0.5])
def test_more_doubt_of_any_engine_betters_no_bound(fleet, together):
    """Doubts that grow engine by engine; of one whose failure is late the influence is the other
    way. What each engine adds for itself is drawn, and may miss by a thousandth."""
    rng = np.random.default_rng(3)
    sd = np.where(np.arange(N) % 2 == 0, 0.1, 0.02)
    slack = 0.0 if together == 1.0 else 1e-3
    before = edges(fleet.replace(clock_sd=sd), together=together)
    for _ in range(4):
        sd = sd.copy()
        sd[rng.choice(N, 8, replace=False)] += 0.06
        now = edges(fleet.replace(clock_sd=sd), together=together)
        for a, b in zip(now, before, strict=True):
            assert a <= b + slack * max(1.0, abs(b) if math.isfinite(b) else 1.0)
        before = now


def test_each_engine_alone_never_lowers_the_one_doubt_it_comes_to(fleet):
    """The common part, at each age: every engine's doubt raised by itself."""
    sd = np.where(np.arange(N) % 3 == 0, 0.12, 0.03)
    base = engine_doubts(fleet.replace(clock_sd=sd), ClockKeys())
    for i in range(N):
        more = sd.copy()
        more[i] += 0.05
        raised = engine_doubts(fleet.replace(clock_sd=more), ClockKeys())
        for age in (300.0, *AGES, 2500.0):
            assert raised.at(math.log(age)) >= base.at(math.log(age))


def test_doubts_between_two_answer_between_them(fleet):
    low, mixed, high = (
        edges(fleet.replace(clock_sd=sd))
        for sd in (np.full(N, 0.02), np.where(np.arange(N) % 2 == 0, 0.12, 0.02), np.full(N, 0.12))
    )
    assert all(c <= b <= a for a, b, c in zip(low, mixed, high, strict=True))
    assert high[-2] < mixed[-2] < low[-2]  # the life; counts of engines step
    h = np.array(AGES)
    by = careful_factors(
        fleet.replace(clock_sd=np.where(np.arange(N) % 2 == 0, 0.12, 0.02)), ClockKeys(), 0.95, h
    )
    assert np.all((math.exp(-0.12 * 1.645) < by) & (by < math.exp(-0.02 * 1.644)))


def test_the_order_of_rows_does_not_matter(fleet):
    sd = np.linspace(0.0, 0.2, N)
    spells = fleet.replace(clock_sd=sd)
    turned = spells.select(np.random.default_rng(1).permutation(N))
    assert edges(turned, together=0.5) == pytest.approx(edges(spells, together=0.5), rel=1e-7)


def test_influences_are_those_of_fits_to_changed_hours():
    """Late entry, failures found at checks and weights; against refits with hours 0.01 % longer."""
    rng = np.random.default_rng(1)
    entry, life = rng.uniform(0.0, 200.0, 60), 2500.0 * rng.weibull(3.0, 60)
    end = np.maximum(np.minimum(life, rng.uniform(400.0, 2000.0, 60)), entry + 150.0)
    failed = life <= end
    good = np.where(failed & (np.arange(60) % 2 == 0), end - 100.0, end)
    spells = Spells.of(entry, end, failed, exit_lower=good, weight=rng.integers(1, 4, 60))
    fit = try_fit(spells)
    level, turn = influence(spells, fit, 1500.0)
    assert level.sum() == pytest.approx(-fit.shape)
    assert turn.sum() == pytest.approx(0.0, abs=1e-9)
    for i in (0, 1, *np.flatnonzero(failed)[:4]):
        ends = []
        for step in (1e-4, -1e-4):
            by = np.where(np.arange(60) == i, math.exp(step), 1.0)
            hours = {f: getattr(spells, f) * by for f in ("entry", "exit_lower", "exit_upper")}
            told = try_fit(spells.replace(**hours))
            ends.append((told.shape * math.log(1500.0 / told.scale_h), told.shape))
        change = (np.array(ends[0]) - np.array(ends[1])) / 2e-4
        assert (level[i], turn[i]) == pytest.approx(tuple(change), rel=1e-4, abs=1e-6)
    # of two signs at other ages, which is what the rule is careful of
    assert (level + turn * math.log(300.0 / 1500.0)).max() > 0.0


def test_an_engine_of_several_rows_has_the_greatest_doubt_of_them():
    spells = Spells.of([0, 400, 0], [400, 900, 1000], [0, 1, 0], unit=["a", "a", "b"]).replace(
        clock_sd=[0.02, 0.08, np.nan]
    )
    doubts = engine_doubts(spells, ClockKeys(doubt=0.05))
    assert doubts.log_sd.tolist() == [0.08, 0.05]
    assert len(draw_clocks(spells, ClockKeys(doubt=0.05, together=0.0), 1).z) > 0


def test_doubts_go_with_the_rows(fleet):
    spells = fleet.replace(clock_sd=np.linspace(0.0, 0.2, N))
    assert spells.select([3, 5]).clock_sd.tolist() == spells.clock_sd[[3, 5]].tolist()
    both = spells.select([1]).join(fleet.select([2]))
    assert both.clock_sd[0] == spells.clock_sd[1]
    assert math.isnan(both.clock_sd[1])
    assert spells.split_at(700.0).collapse().clock_sd.max() == 0.2
    same = Spells.of(0, [500, 500, 500, 500], [0] * 4).replace(clock_sd=[0.1, np.nan, 0.1, np.nan])
    assert sorted(same.collapse().weight) == [2.0, 2.0]
    tally = Tally()
    for _ in range(2):
        tally.add(same.entry, same.exit_lower, same.exit_upper, same.event, same.weight,
                  same.clock_sd)  # fmt: skip
    told = tally.spells()
    assert {
        (w, -1 if math.isnan(s) else s) for w, s in zip(told.weight, told.clock_sd, strict=True)
    } == {(4, -1), (4, 0.1)}
    with pytest.raises(SpellError, match=r"clock_sd is -0\.1"):
        same.replace(clock_sd=[-0.1, 0, 0, 0])


def test_the_sentence_tells_the_span():
    spells = made().replace(clock_sd=np.where(np.arange(N) % 2 == 0, 0.12, 0.02))
    settings = made_settings(claim=1000.0)
    told = weigh_clocks(spells, try_fit(spells), settings)
    assert (told.doubt_least, told.doubt) == (0.02, 0.12)
    assert "by 2 % to 12 % (log standard deviation), all the same way" in told.sentence
    plain = weigh_clocks(made(), try_fit(made()), dataclasses.replace(
        settings, clocks=ClockKeys(doubt=0.1)))  # fmt: skip
    assert told.sure_failure_high == plain.sure_failure_high
    assert told.failure_high > told.sure_failure_high
