"""Stop rule and review date: always there, marked as chosen or as default, moved by the study."""

from __future__ import annotations

import dataclasses
import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.advice import Edge
from fleetstats.chapters.decision import StopChance, stop_against, stop_chance
from fleetstats.chapters.decision.stop_rules import (
    add_months,
    end_rows,
    review_date,
    review_sentence,
    stop_sentence,
)
from fleetstats.study.scaffold import study_template
from fleetstats.study.settings import DecisionKeys


def results(keys: DecisionKeys, chosen: set[str], hours: float | None = 700.0) -> SimpleNamespace:
    settings = made_settings(study={"analysis_date": dt.date(2026, 9, 30)})
    edge = Edge(hours=hours, unrounded_h=hours, governed_by="risk")
    return SimpleNamespace(
        settings=SimpleNamespace(study=settings.study, decision=keys),
        study=SimpleNamespace(chosen=frozenset(chosen)),
        chapters={},
        advice=SimpleNamespace(overhaul_band=SimpleNamespace(plan_from=edge)),
    )


def test_defaults_are_there_and_marked() -> None:
    got = results(DecisionKeys(), set())
    assert review_date(got) == dt.date(2027, 9, 30)
    assert "by 2027-09-30, 12 months after" in review_sentence(got)
    assert "Stop rule (default, not yet chosen): 1 further confirmed failure" in stop_sentence(got)
    assert "below 700 h" in stop_sentence(got)
    assert "default, not yet chosen" in review_sentence(got)


def test_the_study_chooses_both() -> None:
    keys = DecisionKeys(stop_failures=3, review_months=5)
    got = results(keys, {"decision.stop_failures", "decision.review_months"}, hours=None)
    assert "(chosen by the study): 3 further confirmed failures of this kind, or" in stop_sentence(
        got
    )
    assert "end this advice" in stop_sentence(got)
    assert "(chosen by the study): by 2027-02-28, 5 months after" in review_sentence(got)


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        (dt.date(2026, 1, 31), 1, dt.date(2026, 2, 28)),
        (dt.date(2027, 1, 31), 13, dt.date(2028, 2, 29)),
        (dt.date(2026, 11, 25), 1, dt.date(2026, 12, 25)),
        (dt.date(2026, 12, 31), 12, dt.date(2027, 12, 31)),
    ],
)
def test_months_are_added_by_the_calendar(day: dt.date, months: int, later: dt.date) -> None:
    assert add_months(day, months) == later


def test_the_claim_box_says_both_in_a_few_words() -> None:
    got = dict(end_rows(results(DecisionKeys(stop_failures=2), {"decision.stop_failures"})))
    assert got["Stop rule"] == "2 further confirmed failures below 700 h (chosen by the study)"
    assert got["Review"] == "by 2027-09-30 (default, not yet chosen)"


def test_both_stand_in_the_template() -> None:
    text = study_template()
    assert "[decision]" in text
    assert "review_months = 12" in text
    assert "stop_failures = 1" in text


@pytest.mark.parametrize("line", ["review_months = 0", "stop_failures = 0", "review_months = 500"])
def test_impossible_values_are_told(make_study, line: str) -> None:
    from fleetstats.core.errors import SettingError

    with pytest.raises(SettingError, match=r"decision\." + line.split(" ")[0]):
        make_study(settings=f"\n[decision]\n{line}\n")


def asked(n: int, expected: float, chance: float) -> StopChance:
    return StopChance(
        failures=n, below_h=700.0, months=12.0, expected=expected, chance=chance, false_alarm=0.05,
        surprising=12,
    )  # fmt: skip


def test_a_rule_that_the_forecast_expects_is_no_rule_and_says_so_where_it_is_made() -> None:
    """One failure ends the advice, seven are expected: both sentences of the report say so."""
    got = results(DecisionKeys(), set())
    got.chapters = {"stop-chance": asked(1, 7.0, 0.999)}
    assert (
        "The forecast itself expects about 7.0 such failures in 12 months, so a rule that ends the "
        "advice at 1 contradicts it and is no rule: 12 failures or more below 700 h would come "
        "with a chance of at most 5 %"
    ) in stop_sentence(got)
    assert "the forecast expects about 7.0, so it is no rule" in dict(end_rows(got))["Stop rule"]


def test_a_rule_that_chance_reaches_often_says_how_often() -> None:
    said = stop_against(asked(1, 0.4, 0.33))
    assert "Though nothing had changed, it would be reached with a chance of 33 %" in said
    assert "no rule" not in said
    assert stop_against(asked(3, 0.4, 0.05)) == ""
    got = results(DecisionKeys(stop_failures=3), set())
    got.chapters = {"stop-chance": asked(3, 0.4, 0.01)}
    assert stop_sentence(got).endswith("with the new failures in it.")
    assert "forecast" not in dict(end_rows(got))["Stop rule"]


def test_the_chance_is_that_of_the_forecast_below_those_hours() -> None:
    """With no start of a band it is the forecast's own count; below the youngest engine, none."""
    from fleetstats.chapters.ahead import forecast_fleet
    from fleetstats.spells.running import RunningEngine
    from fleetstats.spells.spells import Spells

    rng = np.random.default_rng(3)
    ages = rng.uniform(300, 1200, 60)
    lives = Spells.of(0.0, ages, rng.random(60) < 0.15)
    settings = made_settings(study={"analysis_date": dt.date(2026, 9, 30)})
    engines = tuple(
        RunningEngine(engine=f"E{i}", source="", build="", age_h=a, use_h=100.0, use_from="own",
                      read_on="", stale=False)
        for i, a in enumerate(np.linspace(300, 1100, 40))
    )  # fmt: skip
    whole = stop_chance(lives, engines, settings, None)
    forecast = forecast_fleet(lives, None, engines, settings)
    assert whole is not None
    assert forecast is not None
    assert whole.expected == pytest.approx(forecast.failures.expected, rel=1e-9)
    assert whole.chance == pytest.approx(1.0 - forecast.failures.none)
    part = stop_chance(lives, engines, settings, 700.0)
    none = stop_chance(lives, engines, settings, 250.0)
    assert part is not None
    assert none is not None
    assert 0.0 < part.expected < whole.expected
    assert (none.expected, none.chance, none.likely) == (0.0, 0.0, False)
    unknown = (*engines, dataclasses.replace(engines[0], use_from="none"))
    assert stop_chance(lives, unknown, settings, None) is None
