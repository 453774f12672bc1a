"""The ledger tells the rule on looks how many were made: one question, one answer.

Invented fleets with no source; what is held is that looks at other records count, the same records
do not, and that a look made again after later ones is the look it was.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from fleetstats.advice.judge import accepted_failure
from fleetstats.advice.looks.look import information_of, look_of
from fleetstats.chapters.looks_made import look_of_study
from fleetstats.studies.analyse import analyse
from fleetstats.studies.single import read_base
from fleetstats.study.history import append_look, read_history
from fleetstats.study.study import Study, read_study

DAY = dt.date(2030, 1, 5)
HEAD = """\
[study]
title = "Sixty engines"
analysis_date = {year}-12-31
claimed_interval_h = 600
[evidence]
resamples = 200
{looks}
[[records]]
file = "lives.csv"
source = "club"
"""


def study(folder: Path, year: int, looks: str = "") -> Study:
    """Return the folder's study as it stands in a year: every engine ran on, one more failed."""
    n = year - 2020
    rows = ["engine,exit_hours,ending,cause,in_service_date,last_reading_date"]
    rows += [
        f"E-{i:02d},{150 * n + 5 * i},{'failed,piston' if i < n else 'running,'},2015-01-01,"
        f"{year}-12-01"
        for i in range(60)
    ]
    (folder / "lives.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(HEAD.format(year=year, looks=looks), encoding="utf-8")
    return read_study(folder)


def look(folder: Path, year: int, looks: str = ""):
    """Run the study of a year and write its look down."""
    results = analyse(study(folder, year, looks))
    append_look(folder, look_of_study(results, "n"), today=DAY)
    return results


def test_looks_at_other_records_count_and_those_at_the_same_do_not(tmp_path: Path) -> None:
    assert look(tmp_path, 2021).settings.looks.made is None
    assert look(tmp_path, 2021).settings.looks.made is None
    second = look(tmp_path, 2022)
    assert second.settings.looks.made == 2
    third = look(tmp_path, 2023)
    assert third.settings.looks.made == 3
    assert look_of(third.settings).number == 3
    # asked the other way: single chapters and the claim know the same number
    assert read_base(study(tmp_path, 2023)).settings.looks == third.settings.looks
    assert [c.code for c in third.advice.cautions if c.code == "looks-unplanned"]
    assert "looks-unplanned" not in [c.code for c in second.advice.cautions]


def test_rows_mended_at_one_date_are_no_further_look(tmp_path: Path) -> None:
    look(tmp_path, 2021)
    for row in (
        "E-90,400,running,,2015-01-01,2021-12-01",
        "E-91,500,running,,2015-01-01,2021-12-01",
    ):
        s = study(tmp_path, 2021)
        with (tmp_path / "lives.csv").open("a", encoding="utf-8") as file:
            file.write(row + "\n")
        results = analyse(s)
        append_look(tmp_path, look_of_study(results, "n"), today=DAY)
        assert results.settings.looks.made is None
    assert look(tmp_path, 2022).settings.looks.made == 2


def test_a_look_made_again_after_later_ones_is_the_look_it_was(tmp_path: Path) -> None:
    for year in (2021, 2022, 2023):
        look(tmp_path, year)
    again = look(tmp_path, 2022)
    assert again.settings.looks.made == 2
    assert len(read_history(tmp_path).looks) == 3, "no look was added"


def test_the_information_is_that_of_each_look(tmp_path: Path) -> None:
    first, second = look(tmp_path, 2021), look(tmp_path, 2022)
    want = [
        information_of(r.spells, r.settings, hours=600.0, target=1.0 - accepted_failure(r.settings))
        for r in (first, second)
    ]
    assert list(second.settings.looks.information) == pytest.approx(want, rel=1e-5)


def test_a_plan_is_kept_by_the_ledger_and_a_stated_number_stands(tmp_path: Path) -> None:
    plan = "[looks]\nplanned = 5\n"
    levels = []
    for year in (2021, 2022, 2023):
        results = look(tmp_path, year, plan)
        told = look_of(results.settings)
        levels.append(told.level)
        assert (told.number, told.rule) == (year - 2020, "spending")
    assert all(x < 0.05 for x in levels)
    stated = study(tmp_path, 2023, plan + "made = 1\n")
    assert read_base(stated).settings.looks.made == 1


def test_no_ledger_and_no_claim_change_nothing(tmp_path: Path) -> None:
    s = study(tmp_path, 2022)
    assert read_base(s).settings == s.settings
    look(tmp_path, 2021)
    s = study(tmp_path, 2022)
    free = replace(
        s, settings=replace(s.settings, study=replace(s.settings.study, claimed_interval_h=None))
    )
    assert read_base(free).settings == free.settings
