"""What must hold of any plan of looks, whatever the information and whatever the rule of bounds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_settings
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from fleetstats.advice.advise import advise_horizon
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.looks.at_look import at_look, settings_at_look
from fleetstats.advice.looks.look import EarlierLook, join_looks, look_of
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.verdict import advise_verdict
from fleetstats.bands.looks.crossing import chance_ever
from fleetstats.bands.looks.spending import allot
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells
from fleetstats.study.look_settings import LookKeys
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit

rising = st.lists(st.floats(0.0, 50.0), min_size=1, max_size=8).map(lambda x: np.cumsum(x).tolist())
"""Failures expected at each look, from none at all on, in steps of any size."""


@given(rising, st.integers(0, 4), st.sampled_from([0.005, 0.05, 0.2]))
@settings(max_examples=25, deadline=None)
def test_what_is_spent_never_exceeds_the_stated_chance(
    information: list[float], to_come: int, alpha: float
) -> None:
    """The chance of ever crossing, worked out anew from the levels, is at most what was spent."""
    k = len(information)
    got = allot(information, k + to_come, alpha=alpha)
    assert np.all(np.diff(got.spent, prepend=0.0) > 0.0)
    assert got.spent[-1] <= alpha * (1.0 + 1e-12)
    assert (got.spent[-1] == alpha) == (to_come == 0)
    ever = chance_ever(information, norm.isf(got.level))
    assert ever <= got.spent[-1] * (1.0 + 1e-4) + 1e-9
    assert np.all(got.level <= alpha)


@given(rising, st.integers(1, 5))
@settings(max_examples=15, deadline=None)
def test_a_level_depends_on_no_look_after_it(information: list[float], more: int) -> None:
    """Next year's study allots this year's look what it had."""
    planned = len(information) + more
    whole = allot([*information, information[-1] + 3.0], planned, alpha=0.05)
    now = allot(information, planned, alpha=0.05)
    assert whole.spent[:-1].tolist() == now.spent.tolist()
    assert whole.level[:-1] == pytest.approx(now.level, rel=1e-6)


@given(rising, st.integers(1, 30))
@settings(max_examples=15, deadline=None)
def test_more_looks_planned_leave_none_of_the_looks_so_far_more(
    information: list[float], more: int
) -> None:
    few = allot(information, len(information), alpha=0.05).spent
    many = allot(information, len(information) + more, alpha=0.05).spent
    assert np.all(many <= few + 1e-15)


def fleet(failed: int = 2) -> Spells:
    """Return 90 engines to 1,900 h, of which the oldest but few failed."""
    ages = np.linspace(200.0, 1900.0, 90)
    event = np.zeros(90, dtype=int)
    event[np.linspace(30, 80, failed).astype(int)] = 1
    return Spells.of(0.0, ages, event)


def looked(**keys: Any) -> Settings:
    base = made_settings(targets={"reliability": 0.85})
    return replace(base, looks=LookKeys(**keys))


@pytest.mark.parametrize("failed", [0, 2, 7, 40])
def test_one_look_planned_is_no_plan_at_all(failed: int) -> None:
    spells = fleet(failed)
    plain, one = (
        advise_verdict(Quoter.of(spells, try_fit(spells), s), advise_horizon(spells, s))
        for s in (looked(), looked(planned=1))
    )
    assert plain is not None
    assert one is not None
    assert replace(one, look=None) == plain


@pytest.mark.parametrize("failed", [0, 2, 7, 40])
@pytest.mark.parametrize("made", [1, 4, 10])
def test_a_planned_look_is_the_single_look_at_its_level(failed: int, made: int) -> None:
    """The verdict by the plan is that of a study which states the level as its confidence."""
    spells, plan = fleet(failed), looked(planned=10, made=made)
    level = look_of(plan).level
    alone = replace(looked(), study=replace(plan.study, confidence=1.0 - 2.0 * level))
    by_plan, by_level = (
        judge_claim(Quoter.of(spells, try_fit(spells), s), 1200.0, 0.85) for s in (plan, alone)
    )
    assert by_plan == by_level
    assert is_supported(Quoter.of(spells, try_fit(spells), plan), 1200.0, 0.85) == (
        by_plan.word == "supported"
    )


@pytest.mark.parametrize(
    "keys", [{"planned": 10}, {"rule": "any-number"}, {"planned": 2, "made": 3}]
)
@pytest.mark.parametrize("failed", [0, 2, 7, 40])
def test_no_rule_on_looks_betters_an_edge(failed: int, keys: dict[str, Any]) -> None:
    spells = fleet(failed)
    plain = Quoter.of(spells, try_fit(spells), looked())
    held = at_look(Quoter.of(spells, try_fit(spells), looked(**keys)), 0.85)
    for hours in (600.0, 1200.0, 1700.0):
        a, b = (q.interval(Quantity.reliability(hours)) for q in (plain, held))
        assert (b.low or 0.0) <= (a.low or 0.0) + 1e-12
        assert b.high is None or (a.high is not None and b.high >= a.high - 1e-12)
    assert at_look(held, 0.85) is held


def test_settings_at_a_look_stay_as_they_are() -> None:
    once = settings_at_look(looked(planned=10, made=3))
    assert settings_at_look(once) is once
    assert settings_at_look(looked()) == looked()


def test_a_history_joined_is_the_same_as_one_stated() -> None:
    """Earlier looks told by a history, in any order and one of them twice, or by the study file."""
    earlier = [EarlierLook(number=2, information=2.5), EarlierLook(number=1, information=9.0),
               EarlierLook(number=1, information=1.0)]  # fmt: skip
    joined = join_looks(looked(planned=10), earlier, 4.0)
    stated = looked(planned=10, made=3, information=(1.0, 2.5, 4.0))
    assert look_of(joined) == look_of(stated)
    assert look_of(joined).number == 3
    fallen = join_looks(looked(planned=10), earlier, 2.0)
    assert fallen.looks.information == (1.0, 2.5, 2.5)
