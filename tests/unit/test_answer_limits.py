"""Each limit of checks, answers and cautions at its edge, on either side.

The limits themselves are common practice or our own choice; where a source exists it stands beside
the limit in the package. What is tested here is that a change of one of them would be noticed.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_settings, reference_fleet
from made_lives import before, codes, life

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.base_rate import check_base_rate
from fleetstats.advice.horizon import advise_horizon
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import LISTED_TARGETS
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.bands.in_use import is_few
from fleetstats.chapters.cautions import rules
from fleetstats.chapters.cautions.compute import (
    _builds,
    _failures,
    _informative,
    _late_entry,
    _plan_risk,
)
from fleetstats.chapters.cautions.rules import caution_calendar, caution_prior, caution_stale
from fleetstats.chapters.checks.compliance import count_checks
from fleetstats.chapters.claim.first_failures import PATTERNS
from fleetstats.chapters.plan.rule import hours_by_rule
from fleetstats.core.errors import ArgumentError
from fleetstats.records.condition.checks import CHECK_CELLS, CheckRow
from fleetstats.records.condition.condition_audit import audit_condition
from fleetstats.records.life import Origin
from fleetstats.spells import Event, Spells
from fleetstats.spells.asserted import LivesTold
from fleetstats.survival import fit_weibull

# Checks


@pytest.mark.parametrize(("gap_h", "late"), [(55.0, 0), (55.2, 1)])
def test_a_check_may_be_late_by_a_tenth_of_the_interval(gap_h: float, late: int) -> None:
    check = CheckRow(origin=Origin(file="checks.csv", row=2), engine="E-1", hours_h=gap_h,
                     result="clean")  # fmt: skip
    got = count_checks([life(exit_h=60.0)], [check], made_settings(check={"interval_h": 50.0}))
    assert got is not None
    assert got.n_late == late


@pytest.mark.parametrize(("hours", "said"), [(501.0, 0), (501.05, 1)])
def test_a_check_may_lie_an_hour_past_the_last_hours_known(hours: float, said: int) -> None:
    check = CheckRow(origin=Origin(file="checks.csv", row=2), engine="E-1", hours_h=hours,
                     result="clean")  # fmt: skip
    assert len(audit_condition([check], [], [life(exit_h=500.0)])) == said


def test_words_for_metal_have_their_grade() -> None:
    words = next(m.words for m in CHECK_CELLS if m.name == "grade")
    for grade, said in enumerate(
        (("none",), ("fuzz", "fine fuzz"), ("paste", "grey paste"), ("slivers", "sliver", "flakes"),
         ("chips", "chip"))
    ):  # fmt: skip
        assert {words[w] for w in (*said, str(grade))} == {grade}


@pytest.mark.parametrize(("apart_h", "done"), [(4.9, 1), (5.0, 2), (5.2, 2)])
def test_checks_within_five_hours_are_one_visit(apart_h: float, done: int) -> None:
    visits = [
        CheckRow(origin=Origin(file="checks.csv", row=2), engine="E-1", hours_h=h, result="clean")
        for h in (30.0, 30.0 + apart_h)
    ]
    got = count_checks([life(exit_h=60.0)], visits, made_settings())
    assert got is not None
    assert got.n_done == done


@pytest.mark.parametrize(("hours", "done"), [(60.5, 1), (60.54, 0)])
def test_a_check_half_an_hour_past_the_end_is_at_the_end(hours: float, done: int) -> None:
    check = CheckRow(origin=Origin(file="checks.csv", row=2), engine="E-1", hours_h=hours,
                     result="clean")  # fmt: skip
    got = count_checks([life(exit_h=60.0)], [check], made_settings())
    assert got is not None
    assert got.n_done == done


# Answers


def test_patterns_have_the_shapes_that_the_sentence_names() -> None:
    assert PATTERNS == {"early faults": 0.5, "chance": 1.0, "wear-out": 3.0}


def test_five_failures_are_enough_to_read_a_shape_from() -> None:
    for failed, state in ((4, "not-enough-evidence"), (5, "wear-out")):
        fleet = Spells.of(0.0, np.linspace(400.0, 1500.0, 40), np.arange(40) % 8 == 3)
        fleet = fleet.select(~fleet.failed | (np.cumsum(fleet.failed) <= failed))
        lives = Quoter.of(fleet, fit_weibull(fleet), made_settings())
        answer = advise_wear_out(lives)
        assert answer.state == state
        assert answer.shape is None or "no lower limit" not in answer.sentence


def test_the_risks_listed_where_a_study_states_none() -> None:
    assert LISTED_TARGETS == (1 / 2000, 1 / 1000, 1 / 500, 1 / 200, 1 / 100)


@pytest.mark.parametrize(("failed", "few"), [(4, True), (5, False)])
def test_from_five_failures_on_the_fit_speaks(failed: int, few: bool) -> None:
    fleet = Spells.of(0.0, np.linspace(400.0, 1500.0, 40), np.arange(40) % 8 == 3)
    fleet = fleet.select(~fleet.failed | (np.cumsum(fleet.failed) <= failed))
    assert fleet.n_failed == failed
    assert is_few(fleet, fit_weibull(fleet)) is few


def test_the_horizon_says_where_the_evidence_ends() -> None:
    told = advise_horizon(reference_fleet(), made_settings())
    assert told.sentence.startswith("The evidence ends at 1,401 h, the last age with 10 engines")
    few = advise_horizon(reference_fleet().select(np.arange(260) < 9), made_settings())
    assert few.sentence.startswith("At no age were 10 engines at risk at once")


@pytest.mark.parametrize(("rate", "said"), [(0.4, True), (0.12, False)])
def test_a_share_reported_is_said_only_below_one(rate: float, said: bool) -> None:
    """195,000 h without a failure: the upper bound is 3.0; at 0.4 per 10,000 h 7.8 are expected."""
    check = check_base_rate(reference_fleet(), made_settings(base_rate={"per_10000_h": rate}))
    assert check is not None
    assert (check.share_high < 1.0) is said
    assert ("of failures are reported" in check.sentence) is said


def test_a_level_asked_for_lies_between_0_and_1() -> None:
    fleet, settings = reference_fleet(), made_settings()
    assert advise_hours(fleet, None, settings, level=0.8, curves=False).level == 0.8
    for level in (0.0, 1.0, 90.0):
        with pytest.raises(ArgumentError, match=r"level = .* between 0 and 1"):
            advise_hours(fleet, None, settings, level=level, curves=False)


def test_hours_to_add_are_none_where_the_most_that_is_tried_does_not_show_the_claim() -> None:
    # twelve engines, since fewer than ten at risk support no claim at all
    ages = np.linspace(500.0, 610.0, 12)
    fleet, settings = Spells.of(0.0, ages, np.zeros(12, dtype=bool)), made_settings()
    running = np.ones(12, dtype=bool)

    def asked(target: float) -> float | None:
        return hours_by_rule(fleet, running, None, settings, hours=400.0, target=target)

    assert asked(0.9999) is None
    assert asked(0.0) == 0.0
    assert 0.0 < (asked(0.85) or 0.0) < 4.0 * 400.0
    nobody = np.zeros(12, dtype=bool)
    assert hours_by_rule(fleet, nobody, None, settings, hours=400.0, target=0.85) is None


# Cautions


def _stale(rows: list[Any], settings: Any) -> list[Any]:
    return caution_stale(LivesTold.of_rows(rows, settings), settings)


def old_readings(n_old: int, n: int, **more: Any) -> list[Any]:
    return [life(f"E-{i}", last_reading=before(400 if i < n_old else 10), **more) for i in range(n)]


def test_one_stale_engine_in_five_is_borne_and_lost_ones_do_not_count() -> None:
    settings = made_settings(hours={"stale_days": 365})
    assert _stale(old_readings(20, 100), settings) == []
    assert codes(_stale(old_readings(21, 100), settings)) == ["stale-hours"]
    lost = [life(f"L-{i}", ending="lost", last_reading=before(10)) for i in range(50)]
    assert codes(_stale([*old_readings(21, 100), *lost], settings)) == ["stale-hours"]
    edge = [life(f"E-{i}", last_reading=before(365)) for i in range(9)]
    assert _stale(edge, settings) == []
    # without an analysis date, or without dated readings, nothing can be said
    undated = made_settings(study={"analysis_date": None})
    assert _stale(old_readings(9, 9), undated) == []
    assert _stale([life(f"E-{i}") for i in range(9)], settings) == []


@pytest.mark.parametrize(
    ("days", "use_h", "said"),
    [
        (4383, 31.0, None),  # 12 years of 365.25 days
        (4420, 31.0, "median age 12 years"),
        (4383, 30.0, None),
        (4383, 29.0, "median use 29 h per year"),
    ],
)
def test_twelve_years_or_thirty_hours_a_year(days: int, use_h: float, said: str | None) -> None:
    rows = [life(f"E-{i}", use_h * days / 365.25, in_service=before(days)) for i in range(5)]
    found = caution_calendar(rows, made_settings())
    assert [c.value for c in found] == ([said] if said else [])
    assert caution_calendar(rows[:4], made_settings()) == []
    others = [life(ending="lost", in_service=before(days)), life("E-9")]
    assert caution_calendar([*rows[:4], *others], made_settings()) == []


def fleet_of(*hours: float, **columns: Any) -> Spells:
    return Spells.of(columns.pop("entry", 0.0), hours, np.zeros(len(hours)), **columns)


@pytest.mark.parametrize(("late_h", "said"), [(200.0, []), (210.0, ["late-entry"])])
def test_a_fifth_of_the_hours_may_be_of_late_joiners(late_h: float, said: list[str]) -> None:
    for entry in (100.0, 0.5):  # however few hours after the start of life
        fleet = fleet_of(1000.0 - late_h, entry + late_h, entry=[0.0, entry])
        assert codes(_late_entry(fleet)) == said


@pytest.mark.parametrize(("second_h", "said"), [(199.0, []), (200.0, ["mixed-builds"])])
def test_a_build_with_a_fifth_of_the_hours_is_a_second(second_h: float, said: list[str]) -> None:
    fleet = fleet_of(1000.0 - second_h, second_h, build=["A", "B"])
    assert codes(_builds(fleet)) == said
    assert [c.value for c in _builds(fleet_of(500.0, 500.0, build=["A", "A"]))] == []


@pytest.mark.parametrize(
    ("findings", "exits", "said"),
    [(1, 20, []), (1, 19, ["informative-removal"]), (2, 40, []), (4, 79, ["informative-removal"])],
)
def test_one_exit_in_twenty_may_be_on_a_finding(findings: int, exits: int, said: list[str]) -> None:
    event = [Event.FINDING] * findings + [Event.FAILED] * (exits - findings)
    assert codes(_informative(Spells.of(0.0, np.full(exits, 500.0), event), ())) == said


@pytest.mark.parametrize(
    ("failed", "limit"),
    [(0, "1 failure"), (4, "5 failures"), (5, "10 failures"), (9, "10 failures"), (10, None)],
)
def test_five_failures_for_a_shape_and_ten_for_two_figures(failed: int, limit: str | None) -> None:
    fleet = Spells.of(0.0, np.full(30, 500.0), np.arange(30) < failed)
    assert [c.limit for c in _failures(fleet)] == ([limit] if limit else [])


@pytest.mark.parametrize(("chance", "said"), [(0.100, []), (0.105, ["plan-risk"])])
def test_one_plan_in_ten_may_upset_the_claim(chance: float, said: list[str]) -> None:
    option = SimpleNamespace(shape=2.0, n_engines=5, chance_worse=chance, option="new")
    # a way without engines, and another shape than the worst, say nothing of the plan
    none = SimpleNamespace(shape=2.0, n_engines=0, chance_worse=0.9, option="new")
    other = SimpleNamespace(shape=3.0, n_engines=5, chance_worse=0.9, option="new")
    plan: Any = SimpleNamespace(worst=SimpleNamespace(shape=2.0), options=[option, none, other])
    found = _plan_risk(plan)
    assert codes(found) == said
    assert [c.value for c in found] == (["10.5 % (5 new engines)"] if said else [])


@pytest.mark.parametrize(("left", "said"), [(0.80, []), (0.85, ["prior-driven"])])
def test_four_fifths_of_the_prior_s_spread_may_be_left(
    left: float, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mixture = SimpleNamespace(prior_driven=np.array([left]))
    monkeypatch.setattr(rules, "prepare", lambda *a, **k: SimpleNamespace(mixture=mixture))
    assert codes(caution_prior(reference_fleet(), None, made_settings())) == said


@pytest.mark.parametrize(("chance", "state"), [(0.0105, "in-keeping"), (0.0095, "far-fewer")])
def test_a_chance_of_one_in_a_hundred_is_far_fewer(chance: float, state: str) -> None:
    fleet = reference_fleet()
    rate = -np.log(chance) / fleet.exposure_h * 10_000
    check = check_base_rate(fleet, made_settings(base_rate={"per_10000_h": float(rate)}))
    assert check is not None
    assert check.state == state
