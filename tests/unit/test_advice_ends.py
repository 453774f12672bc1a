"""Stop rule and review date: always there, marked as chosen or as default, moved by the study."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from advice_fleets import made_settings

from fleetstats.advice.advice import Edge
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
