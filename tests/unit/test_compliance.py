"""Checks due and done, counted by hand; gaps, engines without records, and the report's table."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from advice_fleets import made_settings

from fleetstats.chapters.checks.chapter import chapter_compliance, chapter_condition
from fleetstats.chapters.checks.compliance import Compliance, count_checks
from fleetstats.chapters.checks.programme import due_table
from fleetstats.document.cells import check_table
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.finding import Origin

HERE = Origin(file="m.csv", row=2)
SETTINGS = made_settings(check={"interval_h": 50.0})


def life(engine: str, entry: float, end: float, **more: Any) -> LifeRow:
    return LifeRow(origin=HERE, engine=engine, entry_h=entry, exit_h=end,
                   ending=more.pop("ending", "running"), **more)  # fmt: skip


def checks(engine: str, *hours: float, result: str = "clean") -> list[CheckRow]:
    return [CheckRow(origin=HERE, engine=engine, hours_h=h, result=result) for h in hours]


def counted(rows: list[LifeRow], done: list[CheckRow]) -> Compliance:
    got = count_checks(rows, done, SETTINGS)
    assert got is not None
    return got


def test_one_engine_by_hand() -> None:
    """(100, 320] h: 4 due; visits at 150, 152 (the same), 206, 300; gaps 50, 56, 94, 20."""
    got = counted([life("E-1", 100, 320)], checks("E-1", 90.0, 150.0, 152.0, 206.0, 300.0))
    (e,) = got.engines
    assert (e.watched_h, e.due, e.done, e.late) == (220.0, 4, 3, 2)
    assert e.longest_h == 94.0
    assert e.since_last_h == 20.0
    assert got.allowed_h == pytest.approx(55.0)
    assert got.sentence == (
        "Checks each 50 h over the hours watched make 4 due; the records hold 3, which found no "
        "faults. 2 gaps between them are longer than 55 h."
    )
    (caution,) = got.cautions
    assert caution.code == "checks-missing"


def test_a_check_in_the_tolerance_is_not_late() -> None:
    got = counted([life("E-1", 0, 160)], checks("e 1", 55.0, 110.0, 160.0))
    assert (got.n_late, got.n_done, got.n_due) == (0, 3, 3)
    assert got.cautions == ()
    assert "No gap is longer than 55 h" in got.sentence


def test_engines_without_records_are_named_and_come_first() -> None:
    rows = [life("E-1", 0, 100), life("E-2", 0, 400, ending="failed")]
    got = counted(rows, checks("E-1", 50.0, 100.0, result="found"))
    assert got.n_without == 1
    assert [e.engine for e in got.engines] == ["E-2", "E-1"]
    assert got.engines[0].since_last_h is None
    assert got.n_found == 2
    assert "1 engine has no check record at all" in got.sentence


def test_later_lives_count_since_new() -> None:
    """A life since overhaul at 1,000 h: checks are on the clock since new."""
    rows = [life("E-1", 0, 120, life_start_h=1000.0)]
    got = counted(rows, checks("E-1", 1050.0, 1100.0, 60.0))
    assert (got.n_done, got.n_late) == (2, 0)


def test_mere_readings_are_no_checks() -> None:
    assert count_checks([life("E-1", 0, 100)], checks("E-1", 50.0, result=""), SETTINGS) is None


def test_the_demo_and_its_table() -> None:
    from fleetstats.studies.analyse import read_lives_of
    from fleetstats.studies.single import LightBase
    from fleetstats.study.study import read_study

    folder = Path(__file__).parents[2] / "datasets" / "on-condition"
    study = read_study(folder)
    records, audit, built = read_lives_of(study)
    base = LightBase(study=study, records=records, built=built, fit=None, audit=audit)
    assert chapter_compliance(base, {}) is None
    condition = chapter_condition(base, {})
    assert condition is not None
    got = chapter_compliance(base, {"condition": condition})
    assert got is not None
    table = due_table(got)
    check_table(table)
    assert len(table.rows) == len(got.engines) == len({r.engine_id for r in base.built.rows})
    assert got.n_done == sum(r[3] for r in table.rows)
    assert 0.9 < got.n_done / got.n_due < 1.1
