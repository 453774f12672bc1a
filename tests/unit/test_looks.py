"""What a study says of repeated looks: sentences, cautions, the claim box, the section."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.looks.look import ThisLook, information_of, look_of, round_down
from fleetstats.advice.looks.words import say_look, say_rule
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.looks.compute import tell_looks
from fleetstats.chapters.looks.section import compose_look_plan
from fleetstats.document.document import Table
from fleetstats.spells import Spells
from fleetstats.study.look_settings import LookKeys, check_looks


def look(**keys: Any) -> ThisLook:
    return look_of(replace(made_settings(), looks=LookKeys(**keys)))


def test_a_study_without_a_plan_says_nothing_of_looks() -> None:
    one = look()
    assert (one.rule, one.number, one.level) == ("single", 1, pytest.approx(0.05))
    assert say_look(one) == say_rule(one) == ""
    assert tell_looks(made_settings()) is None


@pytest.mark.parametrize(
    ("keys", "said", "short"),
    [
        ({"planned": 10, "made": 10}, "This is look 10 of 10 planned, yearly", "look 10 of 10"),
        ({"planned": 8, "every": "quarter"}, "look 1 of 8 planned, quarterly", "look 1 of 8"),
        ({"rule": "any-number", "made": 4}, "hold at every look", "look 4, edges that hold"),
        ({"planned": 3, "made": 4}, "wrong in up to 10 %", "past the 3 planned"),
        ({"made": 2}, "", "look 2, without a plan"),
    ],
)
def test_the_rule_is_said(keys: dict[str, Any], said: str, short: str) -> None:
    assert said in say_look(look(**keys))
    assert say_look(look(**keys)) or not said
    assert short in say_rule(look(**keys))


def test_looks_without_a_plan_have_an_honest_number() -> None:
    """One-sided 5 % at ten evenly spaced looks: 17 %; at three 10 %."""
    assert look(made=10).at_most == pytest.approx(0.172, abs=1e-3)
    told = tell_looks(replace(made_settings(), looks=LookKeys(made=3)))
    assert told is not None
    (caution,) = told.cautions
    assert caution.code == "looks-unplanned"
    assert "about 10 %, not 5 %" in caution.text
    assert caution.proviso == "of 3 looks without a plan one errs in about 10 %"
    assert len(caution.proviso.split()) <= 15
    two = tell_looks(replace(made_settings(), looks=LookKeys(made=2)))
    assert two is not None
    assert two.cautions == ()


def test_more_looks_than_planned_are_a_caution() -> None:
    told = tell_looks(replace(made_settings(), looks=LookKeys(planned=1, made=3)))
    assert told is not None
    (caution,) = told.cautions
    assert caution.code == "looks-past-plan"
    assert caution.proviso == "3 looks were made, 1 was planned"
    assert "up to 10 %" in caution.text


def test_the_table_has_a_line_for_each_look_made_and_planned() -> None:
    keys = LookKeys(planned=6, information=(1.0, 3.0, 6.0))
    told = tell_looks(replace(made_settings(), looks=keys))
    assert told is not None
    assert [x.state for x in told.lines] == [
        "made",
        "made",
        "this",
        "planned",
        "planned",
        "planned",
    ]
    assert [x.expected for x in told.lines[:3]] == [1.0, 3.0, 6.0]
    assert told.lines[2].level == told.look.level
    assert told.lines[3].level is None
    table = next(b for b in compose_look_plan(told).blocks if isinstance(b, Table))
    assert len(table.rows) == 6
    assert "failures expected" in table.see
    blind = tell_looks(replace(made_settings(), looks=LookKeys(planned=6, made=3)))
    assert blind is not None
    assert blind.lines[0].expected is None
    assert (
        "No history" in next(b for b in compose_look_plan(blind).blocks if isinstance(b, Table)).see
    )


def test_the_claim_says_which_look_it_is() -> None:
    spells = Spells.of(0.0, np.linspace(300.0, 2000.0, 120), np.arange(120) == 60)
    planned = replace(made_settings(), looks=LookKeys(planned=10, made=10))
    claim = advise_claim(spells, planned, 1200.0)
    assert claim.look is not None
    assert claim.confidence == pytest.approx(1.0 - claim.look.level)
    assert "This is look 10 of 10 planned, yearly" in claim.may_quote
    plain = advise_claim(spells, made_settings(), 1200.0)
    assert plain.look is None
    assert "look" not in plain.may_quote
    assert plain.failure_high < claim.failure_high


def test_information_is_what_the_limit_would_bring() -> None:
    """Two engines to the claimed hours, shape 3: twice -ln 0.9; one at half adds an eighth."""
    settings = made_settings()
    spells = Spells.of(0.0, [1000.0, 1000.0, 500.0], [0, 0, 0])
    got = information_of(spells, settings, hours=1000.0, target=0.9)
    assert got == pytest.approx(-np.log(0.9) * 2.125)


@pytest.mark.parametrize(("level", "rounded"), [(0.04999, 0.049), (0.05, 0.05), (1e-9, 1e-6)])
def test_levels_are_rounded_down(level: float, rounded: float) -> None:
    assert round_down(level) == pytest.approx(rounded, rel=1e-9)


def test_looks_that_do_not_fit_together_are_refused() -> None:
    problems: list[str] = []
    check_looks(LookKeys(made=3, information=(1.0, 2.0)), problems)
    check_looks(LookKeys(information=(2.0, 1.0)), problems)
    check_looks(LookKeys(made=2, information=(1.0, 1.0)), problems)
    assert len(problems) == 2
    assert "looks.information has 2 entries and looks.made is 3" in problems[0]
    assert "falls" in problems[1]
