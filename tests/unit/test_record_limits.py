"""Each limit of records at its edge: just within it nothing is said, just past it something is.

The limits themselves are common practice or our own choice; where a source exists it stands beside
the limit in the package. What is tested here is that a change of one of them would be noticed.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from advice_fleets import made_settings
from made_lives import DAY, before, codes, life

from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit_dates import audit_dates
from fleetstats.records.audit.fleet_counts import tell_heap
from fleetstats.records.clocks.usage import use_rate
from fleetstats.records.merging.matching import touch
from fleetstats.records.rules import judge_ending
from fleetstats.spells.build import build_spells
from fleetstats.spells.running import find_running
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.tables.cells import CellError, find_day_first, parse_date, parse_number, text
from fleetstats.vocabulary.fold import fold

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
    assert parse_date("1900-01-01") == dt.date(1900, 1, 1)
    with pytest.raises(CellError, match="before 1900"):
        parse_date("1899-12-31")


def test_twelve_is_a_month_and_thirteen_is_none() -> None:
    assert find_day_first(["12/05/2021", "05/12/2021", "12/12/2021"]) is None
    assert find_day_first(["13/12/2021"]) is True
    assert find_day_first(["12/13/2021"]) is False
    assert find_day_first(["13/12/2021", "12/13/2021"]) is None
    assert parse_date("13/12/2021") == parse_date("12/13/2021") == dt.date(2021, 12, 13)
    for cell in ("12/05/2021", "05/12/2021"):
        with pytest.raises(CellError, match="day or the month first"):
            parse_date(cell)


def test_spaces_within_a_cell_are_one() -> None:
    assert text("cam  follower ") == "cam follower"


def test_hours_end_at_100_000(audited: Any) -> None:
    def said(hours: float) -> list[str]:
        _, _, audit = audited(f"engine,exit_hours,ending\nE-1,{hours:g},running\n")
        return codes(audit.findings)

    assert "hours-impossible" not in said(100_000)
    assert "hours-impossible" in said(100_001)


ENTRY = "engine,entry_hours,exit_hours,ending,in_service_date,observed_from_date\n"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("E-1,,900,running,2015-01-01,2020-01-01", True),
        ("E-1,300,900,running,2015-01-01,2020-01-01", False),
        ("E-1,,900,running,2015-01-01,", False),
        ("E-1,,900,running,,2020-01-01", False),
        ("E-1,,900,running,2020-01-01,2020-01-01", False),
    ],
)
def test_an_engine_older_than_its_records_has_hours_at_entry(
    row: str, said: bool, audited: Any
) -> None:
    _, _, audit = audited(ENTRY + row + "\n")
    assert ("entry-missing" in codes(audit.findings)) is said


@pytest.mark.parametrize(("at", "said"), [(299, True), (300, False), (899, False), (900, True)])
def test_a_modification_lies_within_its_life(at: int, said: bool, audited: Any) -> None:
    head = "engine,entry_hours,exit_hours,ending,build,modified_at_hours,modified_to\n"
    _, _, audit = audited(head + f"E-1,300,900,running,A,{at},B\n")
    assert ("modification-outside" in codes(audit.findings)) is said


@pytest.mark.parametrize(("code", "may"), [("use-implausible", True), ("hours-unreadable", False)])
def test_only_a_row_that_can_be_used_may_be_accepted(code: str, may: bool, make_study: Any) -> None:
    make_study(settings=f'[treat]\n{code} = "set-aside"\n')
    if may:
        make_study(settings=f'[treat]\n{code} = "accept"\n')
        return
    with pytest.raises(SettingError, match="cannot be used as it stands"):
        make_study(settings=f'[treat]\n{code} = "accept"\n')


@pytest.mark.parametrize(
    ("step", "hits", "said"),
    [(100.0, 12, ["hours-heaped"]), (10.0, 20, ["hours-heaped"]), (10.0, 12, [])],
)
def test_heaps_are_looked_for_at_100_50_and_10_h(step: float, hits: int, said: list[str]) -> None:
    hits_at = {100.0: 0, 50.0: 0, 10.0: 0, step: hits}
    assert codes(tell_heap("club", 40, hits_at)) == said
    assert tell_heap("club", 29, hits_at) == []  # too few readings


@pytest.mark.parametrize(
    ("ending", "more", "known_to"),
    [
        ("found-at-check", {}, "interval"),
        ("removed-finding", {}, "interval"),
        ("planned-overhaul", {"found_at_teardown": True}, "interval"),
        ("planned-overhaul", {"found_at_teardown": False}, "exact"),
        ("failed", {"found_at_teardown": True}, "exact"),
    ],
)
def test_what_a_rule_calls_a_failure_is_as_exact_as_its_ending(
    ending: str, more: dict[str, bool], known_to: str
) -> None:
    rule = {"cause": "gears", "counts_as": "failure", "reason": "made"}
    settings = made_settings(question={"rules": (rule,)})
    judged = judge_ending(life(ending=ending, cause="gears", **more), settings)
    assert (judged.counts_as, judged.rule, judged.known_to) == ("failure", 1, known_to)


def test_what_a_study_says_that_says_nothing() -> None:
    settings = Settings(study=StudyKeys(title="made"))
    assert settings.study.confidence == 0.90
    assert settings.hours.stale_days == 365
    assert settings.check.interval_h == 50.0
    assert settings.targets.reliability == 0.90
    assert settings.cost.planned == 1.0
    assert settings.evidence.min_at_risk == 10
    assert settings.evidence.shapes == (1.0, 2.0, 3.0, 4.0)
    assert settings.groups.margin == (0.8, 1.25)
    assert settings.evidence.prior_shape_median == 3.0
    assert settings.evidence.prior_shape_log_sd == 0.7


@pytest.mark.parametrize(
    ("told", "wrong"),
    [
        ("[forecast]\nmonths = 600\n", ""),
        ("[forecast]\nmonths = 601\n", "forecast.months"),
        (f"[delay]\nintervals_h = {[float(i) for i in range(1, 21)]}\n", ""),
        (f"[delay]\nintervals_h = {[float(i) for i in range(1, 22)]}\n", "delay.intervals_h"),
    ],
)
def test_the_most_that_a_study_may_ask(told: str, wrong: str, make_study: Any) -> None:
    if not wrong:
        make_study(settings=told)
        return
    with pytest.raises(SettingError, match=wrong):
        make_study(settings=told)


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
    # the time under observation tells before the day of entry into service
    watched = life(exit_h=245.0, entry_h=200.0, observed_from=before(90), last_reading=DAY)
    assert use_rate(watched) == 0.5
    assert use_rate(replace(watched, in_service=four)) == 0.5
    assert use_rate(life(last_reading=DAY)) is None
    assert use_rate(life(in_service=four)) is None


def test_running_engines_own_use_needs_90_days_and_at_most_2000_h_a_year() -> None:
    def use(hours: float, days: int) -> str:
        row = life(exit_h=hours, in_service=before(days), last_reading=DAY)
        (engine,) = find_running([row], made_settings())
        return engine.use_from

    assert use(45.0, 90) == "own"
    assert use(45.0, 89) == "none"
    assert use(8000.0, 1461) == "own"
    assert use(8001.0, 1461) == "none"
    assert use(0.1, 1461) == "own"
    assert use(0.0, 1461) == "none"


def test_the_time_under_observation_tells_an_engine_s_use_where_it_is_long_enough() -> None:
    def use(days: int, basis: str = "since-new") -> float:
        row = life(exit_h=800.0, entry_h=700.0, observed_from=before(days), last_reading=DAY,
                   in_service=before(1461), life_start_h=1200.0)  # fmt: skip
        (engine,) = find_running([row], made_settings(hours={"basis": basis}))
        return engine.use_h

    assert use(90) == pytest.approx(100.0 / 90 * 365.25)
    assert use(89) == pytest.approx(800.0 / 4)
    # since overhaul, the hours before the overhaul are of the same years in service
    assert use(89, "since-overhaul") == pytest.approx(2000.0 / 4)


@pytest.mark.parametrize("ending", ["lost", "failed", "removed"])
def test_an_engine_that_ended_since_runs_no_more(ending: str) -> None:
    rows = [life("E-1", 400.0), life("E-2", 300.0), life("E-1", 450.0, ending)]
    assert [e.engine for e in find_running(rows, made_settings())] == ["E-2"]
    # at the same hours too
    rows[2] = life("E-1", 400.0, ending)
    assert [e.engine for e in find_running(rows, made_settings())] == ["E-2"]
    # what ended before the last reading is an earlier life
    rows[2] = life("E-1", 350.0, ending)
    assert [e.engine for e in find_running(rows, made_settings())] == ["E-1", "E-2"]


def test_an_engine_of_several_rows_runs_with_its_last_hours() -> None:
    rows = [life("E-1", 400.0), life("E-1", 450.0), life("E-1", 420.0)]
    assert [e.age_h for e in find_running(rows, made_settings())] == [450.0]


def test_a_lost_engine_is_not_running() -> None:
    assert find_running([life(ending="lost")], made_settings()) == ()


@pytest.mark.parametrize(
    ("a", "b", "open_said", "ended_said"),
    [
        ((0, 500), (501, 900), True, False),  # goes on within the hour
        ((0, 500), (501.05, 900), False, False),
        ((0, 500), (490, 900), True, False),  # 10 h are 2 % of 500 h: one end told at two hours
        ((0, 500), (489.95, 900), True, True),
        ((0, 500), (495, 500), True, True),  # within the tolerance, but all of the shorter life
        ((0, 500), (495, 505.5), True, False),  # under half of it
        ((0, 500), (495, 504.5), True, True),
        ((0, 20), (19, 40), True, False),  # an hour is within the tolerance whatever the share
        ((0, 20), (18.95, 40), True, True),
    ],
)
def test_lives_touch_where_they_share_more_than_the_tolerance(
    a: tuple[float, float], b: tuple[float, float], open_said: bool, ended_said: bool
) -> None:
    first, second = (life(entry_h=x, exit_h=y) for x, y in (a, b))
    merge = made_settings().merge
    assert touch(first, second, merge) is touch(second, first, merge) is open_said
    # one that has ended does not go on; it can only share hours
    ended = replace(first, ending="failed")
    assert touch(ended, second, merge) is touch(second, ended, merge) is ended_said


def test_an_id_has_at_most_80_characters(audited: Any) -> None:
    for n, said in ((80, False), (81, True)):
        _, _, audit = audited(f"engine,exit_hours,ending\n{'E' * n},100,running\n")
        assert ("engine-unreadable" in codes(audit.findings)) is said


def test_hours_of_a_log_end_at_100_000(audited: Any) -> None:
    records = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\nsource = "club A"\n'
    for hours, said in ((100_000, False), (100_001, True)):
        rows = f"engine,date,hours,kind\nE-1,2001-01-01,0,installed\nE-1,2025-01-01,{hours},check\n"
        _, _, audit = audited(rows, records=records)
        assert ("log-hours-impossible" in codes(audit.findings)) is said


@pytest.mark.parametrize(
    ("ending", "said"),
    [("running", False), ("lost", False), ("modified", False), ("failed", True)],
)
def test_only_a_cause_of_an_end_must_be_declared(ending: str, said: bool, audited: Any) -> None:
    rows = f"engine,exit_hours,ending,cause\nE-1,100,{ending},gears\n"
    _, _, audit = audited(rows, '[question]\ncauses = ["piston"]\n')
    assert ("cause-undeclared" in codes(audit.findings)) is said


@pytest.mark.parametrize(
    ("told", "may"),
    [
        ("[evidence]\nmin_at_risk = 1\n", True),
        ("[evidence]\nmin_at_risk = 0\n", False),
        ("[cost]\nratio = 1.05\n", True),
        ("[cost]\nratio = 1.0\n", False),
        ("[groups]\nmargin = [0.99, 1.01]\n", True),
        ("[groups]\nmargin = [1.0, 1.25]\n", False),
        ("[groups]\nmargin = [0.8, 1.0]\n", False),
        ("[groups]\nmargin = [0.0, 1.25]\n", False),
    ],
)
def test_the_least_that_a_study_may_ask(told: str, may: bool, make_study: Any) -> None:
    if may:
        make_study(settings=told)
        return
    with pytest.raises(SettingError):
        make_study(settings=told)


def test_a_funnel_whose_sums_are_wrong_does_not_hold(audited: Any) -> None:
    study, records, audit = audited(
        "engine,exit_hours,ending\nE-1,100,running\n,50,running\nE-2,80,failed\n",
        '[treat]\nengine-missing = "set-aside"\n',
    )
    good = build_spells(study, records, audit).funnel
    assert good.holds
    (line,) = good.sources
    for name in ("rows_read", "rows_used", "rows_set_aside", "lives", "lives_used"):
        more = {name: getattr(line, name) + 1}
        assert not replace(good, sources=(replace(line, **more),)).holds, name
        assert not replace(good, total=replace(good.total, **more)).holds, name
        # both wrong alike: the sums across agree, those within a line do not
        alike = replace(good, total=replace(good.total, **more), sources=(replace(line, **more),))
        assert not alike.holds, name


@pytest.mark.parametrize(("entry", "said"), [("900", False), ("800", False), ("700", True)])
def test_hours_before_the_overhaul_are_another_life(entry: str, said: bool, audited: Any) -> None:
    rows = (
        f"engine,entry_hours,exit_hours,ending,overhauled_at_hours\nE-1,{entry},1500,running,800\n"
    )
    _, _, audit = audited(rows, '[hours]\nbasis = "since-overhaul"\n')
    assert ("life-before-overhaul" in codes(audit.findings)) is said


def test_a_row_of_two_engines_counts_as_two(audited: Any) -> None:
    rows = "engine,exit_hours,ending,count\nE-1,100,running,1\nE-2,90,running,2\n"
    study, records, audit = audited(rows)
    assert build_spells(study, records, audit).funnel.total.engines == 3


@pytest.mark.parametrize(
    ("factor", "may"),
    [
        ("1.05", True),
        ("[1.05, 1.0, 1.1]", True),
        ("{ factor = 1.05, low = 1.0 }", True),
        ("{ low = 1.0, high = 1.1 }", False),
        ("{ factor = 1.05, least = 1.0 }", False),
        ("[1.05, 1.0]", False),
        ('[1.05, "1.0", 1.1]', False),
        ("[1.05, 1.06, 1.1]", False),
        ("5.0", True),
        ("5.1", False),
        ("0.2", True),
        ("0.19", False),
    ],
)
def test_a_factor_of_a_meter(factor: str, may: bool, make_study: Any) -> None:
    told = f"[hours.factors]\ntach = {factor}\n"
    if may:
        make_study(settings=told)
        return
    with pytest.raises(SettingError, match=r"hours\.factors\.tach"):
        make_study(settings=told)
