"""What an ending counts as, at each failure level and by the study's own rules."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_ending
from fleetstats.study.settings import QuestionKeys, Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin

LIFE = LifeRow(
    origin=Origin(file="a.csv", row=2), engine="E-1", exit_h=1000.0, ending="running", rows=(2,)
)


def settings(**question):
    return Settings(
        study=StudyKeys(title="T", analysis_date=dt.date(2025, 12, 31)),
        question=QuestionKeys(**question),
    )


def counts(life, **question):
    v = judge_ending(life, settings(**question))
    return v.counts_as, v.known_to


LEVELS = ("power-loss", "confirmed-removal", "beyond-limits")
TABLE = [
    # ending, cause, confirmed, found at teardown: what it counts as at the three levels
    ("running", "", None, None, ["censored", "censored", "censored"]),
    ("lost", "", None, None, ["censored", "censored", "censored"]),
    ("modified", "", None, None, ["censored", "censored", "censored"]),
    ("failed", "piston", True, None, ["failure", "failure", "failure"]),
    ("failed", "piston", None, None, ["failure", "failure", "failure"]),
    ("failed", "", None, None, ["failure", "failure", "failure"]),
    ("failed", "piston", False, None, ["censored", "censored", "censored"]),
    ("failed", "prop strike", None, None, ["censored", "censored", "censored"]),
    ("failed", "Fuel-Contamination", True, None, ["censored", "censored", "censored"]),
    ("failed", "ignition", True, None, ["competing", "competing", "competing"]),
    ("found-at-check", "piston", True, None, ["finding", "failure", "failure"]),
    ("found-at-check", "piston", False, None, ["censored", "censored", "censored"]),
    ("found-at-check", "propeller", True, None, ["competing", "competing", "competing"]),
    ("removed-finding", "piston", None, None, ["finding", "finding", "finding"]),
    ("removed-finding", "piston", True, None, ["finding", "finding", "failure"]),
    ("removed-finding", "accident", None, None, ["censored", "censored", "censored"]),
    ("removed", "sold", None, None, ["censored", "censored", "censored"]),
    # a fault of the engine's own that the shop confirmed, whatever the removal was called
    ("removed", "piston", True, None, ["finding", "failure", "failure"]),
    ("removed", "accessory", True, None, ["competing", "competing", "competing"]),
    ("removed", "sold", True, None, ["censored", "censored", "censored"]),
    ("removed", "overhaul due", True, None, ["censored", "censored", "censored"]),
    ("removed", "piston", False, None, ["censored", "censored", "censored"]),
    ("removed", "", True, None, ["finding", "failure", "failure"]),
    ("removed", "", None, None, ["censored", "censored", "censored"]),
    ("removed", "prop strike", None, False, ["censored", "censored", "censored"]),
    ("removed", "prop strike", None, True, ["censored", "censored", "finding"]),
    ("removed", "calendar overhaul", None, True, ["censored", "censored", "failure"]),
    ("planned-overhaul", "", None, None, ["censored", "censored", "censored"]),
    ("planned-overhaul", "", None, False, ["censored", "censored", "censored"]),
    ("planned-overhaul", "", None, True, ["censored", "censored", "failure"]),
    ("removed", "wear found", None, True, ["censored", "censored", "failure"]),
]


@pytest.mark.parametrize(("ending", "cause", "confirmed", "found", "expected"), TABLE)
def test_each_ending_at_each_level(ending, cause, confirmed, found, expected):
    life = replace(LIFE, ending=ending, cause=cause, confirmed=confirmed, found_at_teardown=found)
    assert [counts(life, level=level)[0] for level in LEVELS] == expected


def test_when_the_failure_is_known_exactly_and_when_to_lie_between():
    failed = replace(LIFE, ending="failed", cause="piston")
    assert counts(failed) == ("failure", "exact")
    found = replace(LIFE, ending="found-at-check", cause="piston")
    assert counts(found) == ("failure", "interval")
    teardown = replace(LIFE, ending="planned-overhaul", found_at_teardown=True)
    assert counts(teardown, level="beyond-limits") == ("failure", "interval")
    removed = replace(LIFE, ending="removed-finding", confirmed=True)
    assert counts(removed, level="beyond-limits") == ("failure", "interval")


def test_a_removal_for_a_cause_in_question_is_counted_both_ways_until_confirmed():
    life = replace(LIFE, ending="removed", cause="piston")
    assert counts(life, causes=("piston",))[0] == "finding"
    assert counts(replace(life, confirmed=True), causes=("piston",)) == ("failure", "exact")
    assert counts(replace(life, confirmed=True), causes=("crankshaft",))[0] == "competing"
    assert counts(replace(life, confirmed=False), causes=("piston",))[0] == "censored"


def test_a_cause_not_in_question_competes_and_an_unknown_one_goes_by_the_setting():
    life = replace(LIFE, ending="failed", cause="crankshaft")
    assert counts(life, causes=("piston",))[0] == "competing"
    assert counts(life, causes=("Crankshaft",))[0] == "failure"
    for cause in ("", "unknown", "Not determined"):
        unknown = replace(LIFE, ending="failed", cause=cause)
        assert counts(unknown, causes=("piston",))[0] == "failure"
        asked = {"causes": ("piston",), "unknown_cause": "competing"}
        assert counts(unknown, **asked)[0] == "competing"


@pytest.mark.parametrize("causes", [(), ("piston",)])
@pytest.mark.parametrize(("ending", "confirmed", "found", "level"), [
    ("failed", None, None, "power-loss"),
    ("failed", True, None, "confirmed-removal"),
    ("found-at-check", True, None, "confirmed-removal"),
    ("removed", True, None, "confirmed-removal"),
    ("removed-finding", True, None, "beyond-limits"),
    ("planned-overhaul", None, True, "beyond-limits"),
])  # fmt: skip
def test_a_failure_of_unknown_cause_counts_as_the_study_says_whatever_is_in_question(
    causes: tuple[str, ...], ending: str, confirmed: bool | None, found: bool | None, level: str
) -> None:
    life = replace(LIFE, ending=ending, cause="", confirmed=confirmed, found_at_teardown=found)
    asked = {"causes": causes, "level": level}
    assert counts(life, **asked)[0] == "failure"
    assert counts(life, unknown_cause="competing", **asked)[0] == "competing"


def test_what_is_no_failure_by_itself_is_not_one_from_another_cause_either() -> None:
    for ending, level in (
        ("removed-finding", "confirmed-removal"),
        ("found-at-check", "power-loss"),
        ("removed", "confirmed-removal"),
    ):
        life = replace(LIFE, ending=ending, cause="")
        kept = counts(life, level=level)
        assert kept[0] != "failure"
        assert counts(life, level=level, unknown_cause="competing") == kept


def test_a_cause_in_question_is_not_censored_though_it_is_so_by_default():
    life = replace(LIFE, ending="failed", cause="fuel contamination")
    assert counts(life)[0] == "censored"
    assert counts(life, causes=("fuel contamination",))[0] == "failure"


def test_the_accessory_level_asks_for_its_causes():
    life = replace(LIFE, ending="failed", cause="ignition")
    assert counts(life, level="accessory", causes=("ignition",))[0] == "failure"
    other = replace(LIFE, ending="failed", cause="piston")
    assert counts(other, level="accessory", causes=("ignition",))[0] == "competing"


def test_the_studys_own_rules_come_first_and_the_first_match_decides():
    rules = (
        {"ending": "failed", "cause": "piston", "counts_as": "excluded", "reason": "recalled lot"},
        {"cause": "piston", "counts_as": "competing", "reason": "never reached"},
        {"confirmed": False, "counts_as": "failure", "reason": "insurer's question"},
        {"ending": "removed", "source": "Shop X", "counts_as": "finding", "reason": "their word"},
        {"cause": "unknown", "ending": "failed", "counts_as": "competing", "reason": "split"},
        {"confirmed": "unknown", "build": "b2", "counts_as": "excluded", "reason": "not asked"},
    )
    q = settings(rules=rules)
    v = judge_ending(replace(LIFE, ending="failed", cause="Piston"), q)
    assert (v.counts_as, v.reason, v.rule) == ("excluded", "recalled lot", 1)
    v = judge_ending(replace(LIFE, ending="failed", cause="x", confirmed=False), q)
    assert (v.counts_as, v.rule) == ("failure", 3)
    v = judge_ending(replace(LIFE, ending="removed", source="shop x"), q)
    assert (v.counts_as, v.rule) == ("finding", 4)
    v = judge_ending(replace(LIFE, ending="failed", confirmed=True), q)
    assert (v.counts_as, v.rule) == ("competing", 5)
    v = judge_ending(replace(LIFE, build="B2"), q)
    assert (v.counts_as, v.rule) == ("excluded", 6)
    assert judge_ending(replace(LIFE, build="B1"), q).rule == 0


def test_every_verdict_says_why():
    for ending, cause, confirmed, found, _ in TABLE:
        life = replace(
            LIFE, ending=ending, cause=cause, confirmed=confirmed, found_at_teardown=found
        )
        for level in LEVELS:
            assert judge_ending(life, settings(level=level)).reason.strip()


def test_a_fault_found_at_a_due_overhaul_is_not_charged_to_the_overhaul():
    for cause in ("overhaul due", "planned overhaul", "calendar overhaul", ""):
        life = replace(LIFE, ending="planned-overhaul", cause=cause, found_at_teardown=True)
        q = {"level": "beyond-limits", "causes": ("piston",)}
        assert counts(life, **q) == ("failure", "interval")
    other = replace(LIFE, ending="planned-overhaul", cause="crankshaft", found_at_teardown=True)
    assert counts(other, level="beyond-limits", causes=("piston",))[0] == "competing"
