"""A question is idle only where the records answer it: either way one advice comes out."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.desk.place import DeskPlace
from fleetstats.desk.questions import questions_of
from fleetstats.studies.analyse import read_lives_of
from fleetstats.study.study import read_study

HEAD = '[study]\ntitle = "Club"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 900\n'
ENDED = "".join(
    f"E-{i},{400 + 37 * i},{'failed' if i < 3 else 'retired'}\n" for i in range(12)
)  # fmt: skip
GOING = "".join(f"E-{i},{400 + 37 * i},{'failed' if i < 5 else 'running'}\n" for i in range(12))
LOG = "".join(
    f"E-{i},installed,0,2020-01-01\nE-{i},{'failed' if i < 3 else 'reading'},{500 + 40 * i},"
    f"2024-06-01\n" for i in range(12)
)  # fmt: skip
OVERHAUL = (
    "E-20,installed,0,2020-01-01\nE-20,overhauled,700,2022-01-01\nE-20,reading,900,2024-01-01\n"
)
TRIED = {"cost.ratio": 5, "fleet.hours_per_year": 120, "hours.meter": '"tach"',
         "hours.basis": '"since-overhaul"', "fleet.built": 40}  # fmt: skip


def club(folder: Path, rows: str, *, more: str = "", head: str = "engine,exit_hours,ending",
         records: str = "") -> Path:  # fmt: skip
    """Invented records of one file."""
    folder.mkdir()
    (folder / "r.csv").write_text(f"{head}\n{rows}", "utf-8")
    (folder / "study.toml").write_text(
        f'{HEAD}{more}[[records]]\nfile = "r.csv"\n{records}', "utf-8"
    )
    return folder


def log(folder: Path, rows: str, more: str = "") -> Path:
    head = "engine,kind,hours,date"
    return club(folder, rows, more=more, head=head, records='shape = "log"\n')


def asked(folder: Path) -> set[str]:
    now = DeskPlace.of(folder).reader.stand()
    assert now.audit is not None, now.wrong or now.broken
    return {f"{q.table}.{q.key}" for q in questions_of(now)}


def test_records_that_leave_all_open_are_asked_all(tmp_path: Path) -> None:
    folder = club(tmp_path / "a", GOING)
    (folder / "serials.csv").write_text("serial\nE-1\n")
    assert {*TRIED, "fleet.serials_file", "check.interval_h"} <= asked(folder)


def test_what_some_records_make_idle_is_not_asked(tmp_path: Path) -> None:
    folder = club(tmp_path / "a", ENDED, records='meter = "flight"\n')
    idle = {"cost.ratio", "fleet.hours_per_year", "hours.meter", "fleet.serials_file"}
    assert not idle & asked(folder)
    assert {"fleet.built", "hours.basis", "check.interval_h"} <= asked(folder)
    (folder / "study.toml").write_text(
        (folder / "study.toml").read_text().replace("[[", "[cost]\nratio = 5\n[[")
    )
    assert "cost.ratio" in asked(folder)  # an answer that was given is shown always


def test_a_list_of_serials_says_how_many_were_built(tmp_path: Path) -> None:
    folder = club(tmp_path / "a", GOING, more='[fleet]\nserials_file = "s.csv"\n')
    (folder / "s.csv").write_text("serial\n" + "".join(f"E-{i}\n" for i in range(14)))
    assert "fleet.built" not in asked(folder)


@pytest.mark.parametrize(("rows", "expected"), [(LOG, False), (LOG + OVERHAUL, True)])
def test_a_log_from_the_first_hour_without_overhaul_has_one_basis(
    tmp_path: Path, rows: str, expected: bool
) -> None:
    folder = log(tmp_path / "a", rows)
    assert ("hours.basis" in asked(folder)) is expected
    study = read_study(folder)
    s = study.settings
    over = replace(s, hours=replace(s.hours, basis="since-overhaul"))
    lives = [
        [(x.engine, x.entry_h, x.exit_h, x.ending) for x in read_lives_of(t)[0].rows]
        for t in (study, replace(study, settings=over))
    ]
    assert (lives[0] != lives[1]) is expected


@pytest.mark.parametrize("key", ["cost.ratio", "fleet.hours_per_year"])
@pytest.mark.parametrize("verb", ["claim", "plan"])
def test_an_idle_answer_moves_nothing(tmp_path: Path, key: str, verb: str) -> None:
    table, _, name = key.partition(".")
    plain = club(tmp_path / "a", ENDED)
    (tmp_path / "more").mkdir()
    told = club(tmp_path / "more" / "a", ENDED, more=f"[{table}]\n{name} = {TRIED[key]}\n")
    assert key not in asked(plain)
    echo = {"hours_per_year": None}  # the plan repeats what it was told
    assert said(verb, plain) | echo == said(verb, told) | echo


def said(verb: str, folder: Path) -> Any:
    got = CliRunner().invoke(main, [verb, str(folder), "--json", "--quiet"])
    assert got.exit_code in (0, 3), got.output
    return json.loads(got.stdout)
