"""The rule from five answers to one overhaul band, line by line, on made answers."""

import pytest

from fleetstats.advice.advice import (
    CostAnswer,
    Horizon,
    ReliabilityAnswer,
    RiskAnswer,
    TargetAge,
    WearOut,
)
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.bands.interval import Interval


def interval(low, middle, high, unit="h"):
    return Interval(
        name="x", estimate=middle, low=low, high=high, level=0.9, method="made", unit=unit
    )


def band(
    life=(1010.0, 1290.0, 1810.0),
    *,
    risk=None,
    cost=None,
    supported=2000.0,
    wear="wear-out",
):
    none = (False, False, False)
    return advise_overhaul_band(
        WearOut(state=wear, sentence=""),
        RiskAnswer(
            state="answered" if risk else "no-target",
            sentence="",
            width_h=50.0,
            chosen=TargetAge(target=0.005, age=interval(*risk), extrapolated=none)
            if risk
            else None,
        ),
        ReliabilityAnswer(state="answered", sentence="", target=0.9, life=interval(*life)),
        CostAnswer(state="answered", sentence="", optimum=interval(*cost))
        if cost
        else CostAnswer(state="no-cost-ratio", sentence=""),
        Horizon(
            sentence="", min_at_risk=10, supported_h=supported, oldest_h=supported + 100,
            counts=(), n_past=0, exposure_past_h=0,
        ),
    )  # fmt: skip


def hours(b):
    return b.plan_from.hours, b.expect_at.hours, b.not_beyond.hours


def test_reliability_alone_rounded_to_50_h():
    b = band()
    assert hours(b) == (1000.0, 1300.0, 1800.0)
    assert b.state == "answered"
    assert not any(e.held_by_evidence for e in (b.plan_from, b.expect_at, b.not_beyond))
    assert "may be considered for review at" in b.sentence


def test_the_earliest_of_those_who_speak_governs_each_edge():
    b = band(risk=(800.0, 1500.0, 1600.0), cost=(900.0, 1150.0, None))
    assert hours(b) == (800.0, 1150.0, 1600.0)
    assert (b.plan_from.governed_by, b.expect_at.governed_by, b.not_beyond.governed_by) == (
        "risk",
        "cost",
        "risk",
    )


def test_edges_that_meet_after_rounding_are_said_as_one_age():
    wide, narrow = band(), band(life=(1010.0, 1020.0, 1040.0))
    assert hours(narrow) == (1000.0, 1000.0, 1000.0)
    assert "at 1,000 h, where all edges of the band meet after rounding" in narrow.sentence
    assert "at 1,000 to 1,800 h: planning is advisable from 1,000 h" in wide.sentence


@pytest.mark.parametrize("side", [0, 1])
def test_a_risk_that_stays_within_its_target_limits_nothing(side):
    risk = [900.0, 1200.0, 1500.0]
    risk[side] = None
    b = band(risk=tuple(risk))
    governed = [b.plan_from.governed_by, b.expect_at.governed_by, b.not_beyond.governed_by]
    assert governed[side] == "reliability"
    assert [g for i, g in enumerate(governed) if i != side] == ["risk", "risk"]


def test_cost_never_moves_the_band_later():
    late = (3000.0, 4000.0, 5000.0)
    assert hours(band(cost=late)) == hours(band())


def test_evidence_holds_all_three_and_says_so():
    b = band(supported=1220.0)
    assert hours(b) == (1000.0, 1200.0, 1200.0)
    assert not b.plan_from.held_by_evidence
    assert b.expect_at.held_by_evidence
    assert b.not_beyond.held_by_evidence
    assert b.not_beyond.governed_by == "evidence horizon"
    assert b.not_beyond.unrounded_h == 1810.0
    assert "where the evidence ends, not where engines do" in b.sentence
    b = band((1500.0, None, None), supported=1220.0, wear="not-enough-evidence")
    assert b.plan_from.hours == 1200.0
    assert b.plan_from.held_by_evidence


def test_no_optimistic_edge_is_no_limit():
    b = band((1010.0, 1290.0, None), supported=2000.0)
    assert b.not_beyond.hours == 2000.0
    assert b.not_beyond.held_by_evidence


@pytest.mark.parametrize("wear", ["not-shown", "not-enough-evidence"])
def test_without_wear_out_no_age_is_expected(wear):
    b = band(wear=wear)
    assert b.state == "evidence-limit"
    assert b.expect_at.hours is None
    assert b.plan_from.hours == 1000.0
    assert "no overhaul age is advised" in b.sentence


def test_falling_risk_leaves_no_band():
    b = band(wear="no-wear-out")
    assert b.state == "hours-do-not-tell"
    assert hours(b) == (None, None, None)


def test_not_enough_evidence_is_an_answer():
    assert band((None, None, None)).state == "not-enough-evidence"
    assert band(supported=0.0).state == "not-enough-evidence"
    assert "at no age were 10 engines at risk" in band(supported=0.0).sentence


@pytest.mark.parametrize("low", [0.0, 4.0, 49.0])
@pytest.mark.parametrize("wear", ["wear-out", "not-shown"])
def test_a_risk_target_that_no_age_meets_leaves_no_plan_from_and_is_told(low, wear):
    got, without = band(risk=(low, None, None), wear=wear), band(wear=wear)
    assert got.state == "target-not-shown"
    assert hours(got) == (None, *hours(without)[1:])
    assert got.else_to_h == without.plan_from.hours == 1000.0
    assert "the risk target is not shown even for the first 50 h" in got.sentence
    assert "The other targets are carried up to 1,000 h" in got.sentence
    assert without.else_to_h is None
    assert ("expected at 1,300 h" in got.sentence) == (wear == "wear-out")


def test_later_edges_of_a_risk_target_not_shown_still_count_where_they_are_ages():
    assert hours(band(risk=(0.0, 1100.0, 1500.0))) == (None, 1100.0, 1500.0)
    assert hours(band(risk=(0.0, 0.0, 0.0))) == (None, 1300.0, 1800.0)


def test_plan_from_never_comes_later_as_the_risk_target_is_shown_less_and_less():
    froms = [band(risk=(x, None, None)).plan_from.hours or 0.0
             for x in (1500.0, 900.0, 60.0, 50.0, 49.0, 4.0, 0.5, 0.0)]  # fmt: skip
    assert froms == [1000.0, 900.0, 50.0, 50.0, 0.0, 0.0, 0.0, 0.0]


def test_without_a_life_a_risk_target_not_shown_leaves_nothing():
    # without a life there is nothing else to go by
    assert band((None, None, None), risk=(0.0, None, None)).state == "not-enough-evidence"


def test_a_plan_from_of_next_to_nothing_is_no_answer():
    for wear in ("wear-out", "not-shown"):
        got = band((0.4, 900.0, 1500.0), wear=wear)
        assert got.state == "not-enough-evidence"
        assert got.plan_from.hours is None
    assert band((60.0, 900.0, 1500.0)).plan_from.hours == 50.0


def test_a_chance_within_target_at_all_ages_limits_nothing():
    assert hours(band(risk=(None, None, None))) == hours(band())


def test_edges_stay_in_order():
    b = band((1010.0, 1030.0, 1049.0))
    a, e, z = hours(b)
    assert a <= e <= z
