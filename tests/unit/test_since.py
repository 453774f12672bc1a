"""Conditions since a date: the option, the account, and the answers beside those of all dates."""

import datetime as dt

import numpy as np
import pytest
from made_lives import life
from made_studies import results_of

from fleetstats.chapters.cautions.calendar import caution_since
from fleetstats.chapters.departures.compute import list_departures
from fleetstats.chapters.since import SinceRuns, answers_since
from fleetstats.chapters.since.words import say_fewer
from fleetstats.core.errors import SettingError
from fleetstats.records.rules import Ruling
from fleetstats.spells.build import build_spells
from fleetstats.spells.days.dated import build_dated
from fleetstats.spells.days.since import NOT_COUNTED, OVER, UNDATED, ages_at, cut_since
from fleetstats.studies.analyse import read_lives_of
from fleetstats.study.since import with_since
from fleetstats.study.study import read_study
from fleetstats.survival.counting.exposure import estimate_exposure

DAY = dt.date(2021, 1, 1)
FAILED, RUNNING = (
    Ruling(counts_as="failure", reason="failed"),
    Ruling(counts_as="censored", reason="running"),
)


def dated(exit_h: float, years: tuple[int, int], ending: str = "running", **more):
    return life(
        exit_h=exit_h, ending=ending, in_service=dt.date(years[0], 1, 1),
        last_reading=dt.date(years[1], 1, 1), **more,
    )  # fmt: skip


def test_each_kind_of_life_by_hand():
    """2019-01-01 to 2023-01-01 is 1,461 days, of which 731 lie before 2021-01-01."""
    lives = [
        (dated(400.0, (2019, 2023)), RUNNING),
        (dated(300.0, (2019, 2020), "failed"), FAILED),
        (dated(200.0, (2022, 2023)), RUNNING),
        (life(exit_h=700.0), RUNNING),
        (life(exit_h=900.0, ending="failed"), FAILED),
    ]
    out, cut = cut_since(lives, DAY, None)
    assert out[0][0].entry_h == pytest.approx(400 * 731 / 1461)
    assert out[0][0].observed_from == DAY
    assert out[1][1].counts_as == OVER
    assert out[2][0] is lives[2][0]
    assert out[3][1].counts_as == UNDATED
    assert (out[4][0].entry_h, out[4][1].counts_as) == (899.0, "failure")
    assert (cut.n_over, cut.failed_over, cut.n_undated, cut.undated_failed) == (1, 1, 1, 1)
    assert cut.hours_before == pytest.approx(300 + 400 * 731 / 1461)
    told = [c.text for c in caution_since(cut)]
    assert "1 life that ended by then (1 failure)" in told[0]
    assert [c.proviso for c in caution_since(cut)][1:] == [
        "1 life without dates is left out",
        "1 failure without a date is counted as after 2021-01-01",
    ]
    assert caution_since(None) == []


def test_a_failure_whose_interval_begins_before_the_day_is_kept():
    checked = dated(400.0, (2019, 2023), "found-at-check", last_good_h=50.0)
    by_check = Ruling(counts_as="failure", reason="found", known_to="interval")
    ((kept, v),) = cut_since([(checked, by_check)], DAY, None)[0]
    assert (kept.last_good_h, v.counts_as) == (None, "failure")
    undated = life(exit_h=400.0, ending="found-at-check", last_good_h=350.0)
    ((kept, _),) = cut_since([(undated, by_check)], DAY, None)[0]
    assert (kept.entry_h, kept.exit_h) == (350.0, 400.0)


def test_the_ages_on_a_day_are_those_at_which_the_lives_since_enter():
    """One question asked in two ways: the lives, and their ages alone."""
    lives = [
        (dated(400.0, (2019, 2023)), RUNNING),
        (dated(300.0, (2019, 2020), "failed"), FAILED),
        (dated(200.0, (2022, 2023), engine="late"), RUNNING),
        (life(exit_h=700.0), RUNNING),
        (life(exit_h=900.0, ending="failed"), FAILED),
        (life(exit_h=900.0, ending="failed"), Ruling(counts_as="excluded", reason="by a rule")),
    ]
    later = cut_since(lives, DAY, None)[0]
    told = [np.inf if v.counts_as in NOT_COUNTED else x.entry_h for x, v in later]
    assert ages_at(lives, DAY, None).tolist() == told


@pytest.fixture(scope="module")
def clubs():
    return read_study("datasets/tow-clubs")


@pytest.mark.parametrize("day", [dt.date(2020, 6, 1), dt.date(2024, 1, 1)])
def test_asked_three_ways_it_is_one_answer(clubs, day):
    """By the setting, by the chapter's function and by the value on the calendar."""
    whole = results_of("tow-clubs")
    _, _, built = read_lives_of(with_since(clubs, day))
    told = answers_since(whole, day)
    lives = build_dated(
        whole.built.rows, whole.spells, until=clubs.settings.study.analysis_date
    ).since(day.toordinal())
    assert told.n_failed == built.spells.n_failed == lives.n_failed
    assert told.exposure_h == pytest.approx(built.spells.exposure_h, rel=1e-12)
    assert told.exposure_h == pytest.approx(lives.exposure_h, rel=1e-9)
    assert np.allclose(np.sort(lives.entry), np.sort(built.spells.entry))
    before = whole.spells.exposure_h - told.exposure_h
    assert told.cut.hours_before == pytest.approx(before, rel=0.01)  # intervals count half-way


def test_before_the_first_day_it_is_the_study_itself(clubs):
    whole = results_of("tow-clubs")
    _, _, built = read_lives_of(with_since(clubs, dt.date(1990, 1, 1)))
    assert built.spells == whole.spells
    told = answers_since(whole, dt.date(1990, 1, 1))
    assert told.cut.hours_before == 0
    assert told.life == answers_since(whole, 700000.5).life


def test_the_account_adds_up_and_says_so(clubs):
    study = with_since(clubs, "2022-01-01")
    records, audit, built = read_lives_of(study)
    assert built.funnel.holds
    cut = built.since
    assert built.funnel.total.life_losses["ended by 2022-01-01"] == cut.n_over
    assert built.trouble.n == sum(built.trouble.counts.values())
    assert built.trouble.counts["over"] >= cut.failed_over
    assert built.trouble.n == build_spells(clubs, records, audit).trouble.n
    departures = list_departures(study, records, audit, built)
    mine = next(x for x in departures.items if x.key == "study.since")
    assert mine.turns
    assert f"{cut.hours_before:,.0f} h before it not counted" in mine.effect


def test_the_report_shows_a_line_for_each_date():
    runs = results_of("tow-clubs").chapters["since"]
    assert isinstance(runs, SinceRuns)
    assert runs.answers[0].run.name == "all dates"
    hours = [a.exposure_h for a in runs.answers]
    assert hours == sorted(hours, reverse=True)
    assert say_fewer(runs.answers[:1]) == ""


@pytest.mark.parametrize("day", ["last spring", "2026-09-30", dt.date(2027, 1, 1)])
def test_what_is_no_date_before_the_analysis_is_refused(clubs, day):
    with pytest.raises(SettingError):
        with_since(clubs, day)


def test_hours_since_are_those_of_the_calendar_years(clubs):
    """Exposure of one calendar year is that since its start less that since its end."""
    whole = results_of("tow-clubs")
    a, b = (answers_since(whole, dt.date(y, 12, 31)) for y in (2021, 2022))
    lives = build_dated(whole.built.rows, whole.spells)
    part = lives.since(dt.date(2021, 12, 31).toordinal())
    assert estimate_exposure(part).exposure_h.sum() == pytest.approx(a.exposure_h)
    assert a.exposure_h > b.exposure_h
