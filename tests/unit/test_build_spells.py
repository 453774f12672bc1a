"""From lives to spells: what stops it, equal engines in one row, lives since overhaul."""

from __future__ import annotations

import datetime as dt

import pytest

from fleetstats.core.errors import RecordError, SpellError
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_endings
from fleetstats.spells.build import build_spells, spells_for
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin


def test_errors_stop_with_each_row_named_and_the_way_out(audited):
    study, records, audit = audited("engine,exit_hours,ending\nE-1,x,running\nE-2,-1,running\n")
    with pytest.raises(RecordError) as e:
        build_spells(study, records, audit)
    assert "The records hold 2 errors that stop the study" in e.value.message
    assert "lives.csv row 2, column 'exit_hours': 'x' is not a number" in e.value.message
    assert "[treat]" in e.value.hint
    assert "hours-unreadable, hours-impossible" in e.value.hint


def test_a_row_for_many_engines_weighs_as_many(audited):
    text = "engine,exit_hours,ending,count\nlot 1,50,running,288\nE-2,230,failed,\n"
    study, records, audit = audited(text)
    built = build_spells(study, records, audit)
    assert built.spells.weight.tolist() == [288.0, 1.0]
    assert built.funnel.total.lives_used == 289
    assert built.funnel.total.engines_used == 289
    assert {(e.ending, e.n) for e in built.endings} == {("running", 288), ("failed", 1)}


OVERHAUL = (
    "engine,entry_hours,exit_hours,last_good_hours,ending,overhauled_at_hours,"
    "since_overhaul_hours\n"
    "E-1,1300,1500,1450,found-at-check,1000,\n"
    "E-2,1000,1800,,running,,800\n"
    "E-3,0,900,,running,,\n"
)


def test_lives_since_overhaul_count_from_the_overhaul(audited):
    """By hand: E-1 300 to 500 h, known good at 450 h; E-2 0 to 800 h; E-3 as it stands."""
    study, records, audit = audited(OVERHAUL, '[hours]\nbasis = "since-overhaul"\n')
    built = build_spells(study, records, audit)
    assert built.spells.entry.tolist() == [300.0, 0.0, 0.0]
    assert built.spells.exit_lower.tolist() == [450.0, 800.0, 900.0]
    assert built.spells.exit_upper.tolist() == [500.0, 800.0, 900.0]
    assert [r.life_start_h for r in built.rows] == [1000.0, 1000.0, 0.0]
    assert [r.life for r in built.rows] == [1, 1, 0]


def test_an_engine_written_in_two_ways_is_one_engine(audited):
    rows = (
        "engine,entry_hours,exit_hours,ending\nOT-07,,500,failed\not 7,500,900,running\nE,,5,lost\n"
    )
    built = build_spells(*audited(rows))
    assert list(built.spells.unit) == ["OT-07", "OT-07", "E"]


def test_a_life_since_new_across_an_overhaul_is_asked_about(audited):
    text = OVERHAUL.replace("E-1,1300,", "E-1,200,")
    _, _, audit = audited(text)
    assert [f.code for f in audit.stops] == ["overhaul-within-life"]
    assert "runs from 200 h on across an overhaul at 1000 h" in audit.stops[0].message
    _, _, audit = audited(text, '[hours]\nbasis = "since-overhaul"\n')
    assert [f.code for f in audit.of("warning")] == ["life-before-overhaul"]


@pytest.mark.parametrize("row", ["E-1,0,900,,running,1000,", "E-1,0,900,,running,,950"])
def test_an_overhaul_outside_the_life_is_impossible(audited, row):
    _, _, audit = audited(OVERHAUL.splitlines()[0] + "\n" + row + "\n")
    assert [f.code for f in audit.stops] == ["hours-impossible"]


def test_minutes_are_turned_into_hours(audited):
    study, records, audit = audited(
        "engine,exit_hours,ending\nE-1,6000,running\n", '[hours]\nunit = "min"\n'
    )
    assert build_spells(study, records, audit).spells.exit_upper.tolist() == [100.0]


def test_covariates_are_carried_and_what_is_no_number_is_named(audited):
    study, records, audit = audited(
        "engine,exit_hours,ending,boost\nE-1,10,running,1.5\nE-2,20,running,high\n",
        '[groups]\ncovariates = ["boost"]\n',
    )
    built = build_spells(study, records, audit)
    assert [r.extra for r in built.rows] == [{"boost": 1.5}, {}]
    assert [f.code for f in audit.of("warning")] == ["covariate-unreadable"]


def test_a_file_with_no_usable_row_gives_no_spells(audited):
    study, records, audit = audited("engine,exit_hours,ending\n")
    built = build_spells(study, records, audit)
    assert len(built.spells) == 0
    assert built.funnel.holds
    assert built.endings == ()


@pytest.mark.parametrize("rounded", ["as-given", "interval"])
def test_a_life_that_cannot_be_is_named_by_its_file_and_row(rounded):
    at = (Origin(file="club.csv", row=2), Origin(file="shop.csv", row=7))
    rows = tuple(
        LifeRow(origin=o, engine="E-1", entry_h=entry, exit_h=300.0, ending="running")
        for o, entry in zip(at, (0.0, -1.6), strict=True)
    )
    settings = Settings(
        study=StudyKeys(title="t", analysis_date=dt.date(2026, 1, 1)),
        hours=HoursKeys(rounded=rounded),
    )
    with pytest.raises(SpellError, match=r"^shop\.csv row 7: .*'E-1': entry is -1\.6"):
        spells_for(rows, judge_endings(rows, settings), settings)
