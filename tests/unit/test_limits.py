"""Each limit at its edge: just within it nothing is said, just past it something is.

The limits themselves are common practice or our own choice; where a source exists it stands beside
the limit in the package. What is tested here is that a change of one of them would be noticed.
"""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_settings, reference_fleet
from fleetstats.advice.running import find_running
from fleetstats.chapters.claim.base_rate import check_base_rate

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
from fleetstats.records.audit.audit_dates import audit_dates
from fleetstats.records.clocks.usage import use_rate
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.lives.life import LifeRow, Origin
from fleetstats.spells import Event, Spells
from fleetstats.study.rules import fold
from fleetstats.tables.cells import CellError, parse_date, parse_number

DAY = dt.date(2026, 1, 1)
"""Analysis date of `made_settings`."""


def life(engine: str = "E-1", exit_h: float = 500.0, ending: str = "running", **more: Any) -> Any:
    return LifeRow(origin=Origin(file="made.csv", row=2), engine=engine, exit_h=exit_h,
                   ending=ending, **{"entry_h": 0.0, **more})  # fmt: skip


def before(days: int) -> dt.date:
    return DAY - dt.timedelta(days=days)


def codes(found: Any) -> list[str]:
    return [f.code for f in found]


# Words and cells


def test_hyphens_underscores_spaces_and_capitals_make_no_other_cause() -> None:
    assert {
        fold(w) for w in ("cam follower", "Cam-follower", "cam_follower", " CAM  FOLLOWER ")
    } == {"cam follower"}


@pytest.mark.parametrize(
    "cell", ["12:30:36", dt.time(12, 30, 36), dt.timedelta(hours=12, minutes=30, seconds=36)]
)
def test_seconds_of_a_time_cell_count(cell: Any) -> None:
    assert parse_number(cell) == pytest.approx(12.51, abs=1e-12)


def test_dates_begin_with_1900() -> None:
    assert parse_date("1900-01-01", "iso") == dt.date(1900, 1, 1)
    with pytest.raises(CellError, match="before 1900"):
        parse_date("1899-12-31", "iso")


# Hours and dates of a life


@pytest.mark.parametrize(
    ("hours", "days", "said"),
    [
        # four years at 1,500 h and 100 h more: the most that is believed
        (6100.0, 1461, []),
        (6101.0, 1461, ["use-implausible"]),
        # a day has 24 hours, and the first and last day both count
        (264.0, 10, ["use-implausible"]),
        (264.5, 10, ["hours-exceed-calendar"]),
    ],
)
def test_use_that_is_not_believed(hours: float, days: int, said: list[str]) -> None:
    row = life(exit_h=hours, in_service=before(days), last_reading=DAY)
    assert codes(audit_dates(row, made_settings())) == said


def test_a_reading_is_stale_a_day_after_the_days_allowed() -> None:
    settings = made_settings(hours={"stale_days": 365})
    fresh, old = life(last_reading=before(365)), life(last_reading=before(366))
    assert codes(audit_dates(fresh, settings)) == []
    assert codes(audit_dates(old, settings)) == ["reading-stale"]


def test_an_engine_s_own_use_needs_90_days_and_stays_below_3000_h_a_year() -> None:
    assert use_rate(life(exit_h=45.0, in_service=before(90), last_reading=DAY)) == 0.5
    assert use_rate(life(exit_h=45.0, in_service=before(89), last_reading=DAY)) is None
    four = before(1461)
    assert use_rate(life(exit_h=12_000.0, in_service=four, last_reading=DAY)) is not None
    assert use_rate(life(exit_h=12_010.0, in_service=four, last_reading=DAY)) is None
    assert use_rate(life(exit_h=0.5, in_service=four, last_reading=DAY)) == 0.5 / 1461
    assert use_rate(life(exit_h=0.0, in_service=four, last_reading=DAY)) is None


def test_running_engines_own_use_needs_90_days_and_at_most_2000_h_a_year() -> None:
    def use(hours: float, days: int) -> str:
        row = life(exit_h=hours, in_service=before(days), last_reading=DAY)
        (engine,) = find_running([row], made_settings())
        return engine.use_from

    assert use(45.0, 90) == "own"
    assert use(45.0, 89) == "none"
    assert use(8000.0, 1461) == "own"
    assert use(8001.0, 1461) == "none"


@pytest.mark.parametrize("ending", ["lost", "failed", "removed"])
def test_an_engine_that_ended_since_runs_no_more(ending: str) -> None:
    rows = [life("E-1", 400.0), life("E-2", 300.0), life("E-1", 450.0, ending)]
    assert [e.engine for e in find_running(rows, made_settings())] == ["E-2"]
    # what ended before the last reading is an earlier life
    rows[2] = life("E-1", 350.0, ending)
    assert [e.engine for e in find_running(rows, made_settings())] == ["E-1", "E-2"]


def test_a_lost_engine_is_not_running() -> None:
    assert find_running([life(ending="lost")], made_settings()) == ()


# Checks


@pytest.mark.parametrize(("gap_h", "late"), [(55.0, 0), (55.2, 1)])
def test_a_check_may_be_late_by_a_tenth_of_the_interval(gap_h: float, late: int) -> None:
    check = CheckRow(origin=Origin(file="checks.csv", row=2), engine="E-1", hours_h=gap_h,
                     result="clean")  # fmt: skip
    got = count_checks([life(exit_h=60.0)], [check], made_settings(check={"interval_h": 50.0}))
    assert got is not None
    assert got.n_late == late


# Cautions


def old_readings(n_old: int, n: int, **more: Any) -> list[Any]:
    return [life(f"E-{i}", last_reading=before(400 if i < n_old else 10), **more) for i in range(n)]


def test_one_stale_engine_in_five_is_borne_and_lost_ones_do_not_count() -> None:
    settings = made_settings(hours={"stale_days": 365})
    assert caution_stale(old_readings(20, 100), settings) == []
    assert codes(caution_stale(old_readings(21, 100), settings)) == ["stale-hours"]
    lost = [life(f"L-{i}", ending="lost", last_reading=before(10)) for i in range(50)]
    assert codes(caution_stale([*old_readings(21, 100), *lost], settings)) == ["stale-hours"]
    edge = [life(f"E-{i}", last_reading=before(365)) for i in range(9)]
    assert caution_stale(edge, settings) == []


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


def fleet_of(*hours: float, **columns: Any) -> Spells:
    return Spells.of(columns.pop("entry", 0.0), hours, np.zeros(len(hours)), **columns)


@pytest.mark.parametrize(("late_h", "said"), [(200.0, []), (210.0, ["late-entry"])])
def test_a_fifth_of_the_hours_may_be_of_late_joiners(late_h: float, said: list[str]) -> None:
    fleet = fleet_of(1000.0 - late_h, 100.0 + late_h, entry=[0.0, 100.0])
    assert codes(_late_entry(fleet)) == said


@pytest.mark.parametrize(("second_h", "said"), [(199.0, []), (200.0, ["mixed-builds"])])
def test_a_build_with_a_fifth_of_the_hours_is_a_second(second_h: float, said: list[str]) -> None:
    fleet = fleet_of(1000.0 - second_h, second_h, build=["A", "B"])
    assert codes(_builds(fleet)) == said


@pytest.mark.parametrize(
    ("findings", "exits", "said"),
    [(1, 20, []), (1, 19, ["informative-removal"]), (2, 40, []), (4, 79, ["informative-removal"])],
)
def test_one_exit_in_twenty_may_be_on_a_finding(findings: int, exits: int, said: list[str]) -> None:
    event = np.full(exits, int(Event.FAILED))
    event[:findings] = int(Event.FINDING)
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
    plan: Any = SimpleNamespace(worst=SimpleNamespace(shape=2.0), options=[option])
    assert codes(_plan_risk(plan)) == said


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
