"""Odd cells decided on in a workbook: written, filled in, taken, and taken back.

Rules of our own, no outside source; the files are invented.
"""

from __future__ import annotations

import datetime as dt
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner, Result

from fleetstats.cli import main
from fleetstats.records.mending.book import COLOURS, HEADS, LIST
from fleetstats.records.mends.log import read_mends
from fleetstats.study.study import MENDS_FILE, read_study

STUDY = """[study]
title = "made"
analysis_date = 2025-12-31
[treat]
example-row = "set-aside"
[[records]]
file = "lives.csv"
source = "club"
[[records]]
file = "shop.xlsx"
sheet = "Fleet"
header_row = 3
source = "shop"
"""
LIVES = (
    "engine,exit_hours,ending,cause,note\n"
    "A-101,1O50,running,,=1+1\n"
    'B,700,faild,crankshaft,"two\nlines"\n'
    "C,900,running,,\n"
    "D,610,failed,piston,\n"
)
ROWS: tuple[tuple[Any, ...], ...] = (
    ("S1", 500, "running", None, dt.date(2025, 5, 1)),
    ("S2", 771.5, "running", None, "05.13.2021"),
    ("S3", "lots", "failed", "piston", None),
    ("S4", 800, "runing", None, None),
)


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "club"
    place.mkdir()
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    (place / "lives.csv").write_bytes(LIVES.encode())
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.title = "Fleet"
    sheet["A1"] = "Our engines, 2025"
    for j, head in enumerate(("Serial", "Hours", "Ending", "Cause", "Last reading date"), start=1):
        sheet.cell(row=3, column=j, value=head)
    for i, row in enumerate(ROWS, start=4):
        for j, cell in enumerate(row, start=1):
            sheet.cell(row=i, column=j, value=cell)
    book.save(place / "shop.xlsx")
    return place


@pytest.fixture
def book(folder: Path, tmp_path: Path) -> Path:
    out = tmp_path / "mend.xlsx"
    done = run("check", folder, "--out", out)
    assert done.exit_code == 0, done.output
    assert "with a proposed value" in done.output
    return out


def fill(path: Path, decisions: dict[tuple[str, int], dict[str, Any]]) -> None:
    """Fill in decisions by file and row, as a person would."""
    book = openpyxl.load_workbook(path)
    sheet = book[LIST]
    at = {h: j for j, h in enumerate(HEADS, start=1)}
    for i in range(2, sheet.max_row + 1):
        key = (sheet.cell(row=i, column=2).value, sheet.cell(row=i, column=4).value)
        for name, cell in decisions.get(key, {}).items():
            sheet.cell(row=i, column=at[name], value=cell)
    book.save(path)


KEEPER = {"why": "seen in the log book", "by (role)": "records keeper"}
DECIDED: dict[tuple[str, int], dict[str, Any]] = {
    ("lives.csv", 2): {"decision": "take it", "by (role)": "records keeper"},
    ("lives.csv", 3): {"decision": "give another", "other value": "failed", **KEEPER},
    ("shop.xlsx", 5): {"decision": "leave"},
    ("shop.xlsx", 6): {"decision": "give another", "other value": 812.5, **KEEPER},
    ("shop.xlsx", 7): {"decision": "set aside", **KEEPER},
}


def test_the_workbook_shows_the_sheets_as_supplied_with_odd_cells_marked(book: Path) -> None:
    made = openpyxl.load_workbook(book)
    assert made.sheetnames == ["Read me", LIST, "Files", "1 lives", "2 Fleet"]
    lives, shop = made["1 lives"], made["2 Fleet"]
    assert [c.value for c in lives[2]][:2] == ["A-101", "1O50"]
    assert (lives["E2"].value, lives["E2"].data_type) == ("=1+1", "s"), "a text, no formula"
    assert shop["A1"].value == "Our engines, 2025"
    assert shop["E4"].value == dt.datetime(2025, 5, 1)
    odd = lives["B2"]
    assert odd.fill.start_color.rgb == COLOURS["error"]
    assert "is not a number of hours" in odd.comment.text
    assert lives["F2"].value == "error: exit_hours", "colour is not the only sign"
    assert lives["B5"].comment is None
    (rule,) = made[LIST].data_validations.dataValidation
    assert rule.formula1 == '"take it,give another,set aside,leave"'
    assert made["Files"]["C2"].value is not None


def test_what_is_decided_is_taken_and_no_supplied_byte_changes(folder: Path, book: Path) -> None:
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert run("check", folder).exit_code == 3
    fill(book, DECIDED)
    done = run("check", folder, "--take", book)
    assert done.exit_code == 0, done.output
    assert "4 mends written to mends.csv; 0 stood there already" in done.output
    assert "By decision: 3 cells mended, 1 row set aside by decision." in done.output
    assert "8 rows read = 7 used + 1 set aside" in done.output
    assert {n: (folder / n).read_bytes() for n in before} == before
    told = {(m.file, m.row): (m.old, m.new, m.why) for m in read_mends(read_study(folder)).mends}
    assert told["lives.csv", 2][:2] == ("1O50", "1050")
    assert "is not a number of hours" in told["lives.csv", 2][2], "the finding is the reason"
    assert told["shop.xlsx", 6] == ("lots", "812.5", "seen in the log book")
    again = run("check", folder, "--take", book)
    assert "0 mends written to mends.csv; 4 stood there already" in again.output
    lines = (folder / MENDS_FILE).read_bytes().splitlines()
    assert len(lines) == 5


def test_a_mend_is_taken_back_by_its_number(folder: Path, book: Path) -> None:
    fill(book, DECIDED)
    run("check", folder, "--take", book)
    done = run("check", folder, "--untake", "1", "--json")
    assert done.exit_code == 3
    told = json.loads(done.output)
    assert (told["untaken"]["row"], told["untaken"]["old"]) == (2, "1O50")
    assert len(told["mended"]) == 3
    assert run("check", folder, "--untake", "9").exit_code != 0


def test_a_role_may_be_given_for_all(folder: Path, book: Path) -> None:
    fill(book, {("lives.csv", 2): {"decision": "take it"}})
    missing = run("check", folder, "--take", book)
    assert missing.exit_code != 0
    assert "mend.xlsx [Odd cells] row 2" in missing.output
    assert "the role of who decides is empty" in missing.output
    run("check", folder, "--take", book, "--by", "records keeper")
    (own,) = read_mends(read_study(folder)).mends
    assert own.by == "records keeper"


def test_a_cell_that_is_not_listed_may_be_added(folder: Path, book: Path) -> None:
    made = openpyxl.load_workbook(book)
    sheet = made[LIST]
    own = {"file": "lives.csv", "row": 5, "column": "exit_hours", "decision": "give another",
           "other value": 950, **KEEPER}  # fmt: skip
    row = sheet.max_row + 1
    for j, head in enumerate(HEADS, start=1):
        sheet.cell(row=row, column=j, value=own.get(head))
    made.save(book)
    done = run("check", folder, "--take", book)
    assert "1 mend written" in done.output
    (mend,) = read_mends(read_study(folder)).mends
    assert (mend.old, mend.new) == ("900", "950")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"decision": "maybe"}, "column 'decision': 'maybe' is none of take it"),
        ({"other value": "5"}, "column 'decision': is empty, and 'other value' is filled in"),
        ({"decision": "take it", "other value": "5"}, "stands beside 'take it'"),
        ({"decision": "give another", **KEEPER}, "the other value is empty"),
        ({"decision": "take it", "value": "1051", **KEEPER}, "'1051' was seen, '1O50' stands"),
        ({"decision": "take it", "column": "colour", **KEEPER}, "column 'colour' is not in"),
        ({"decision": "take it", "row": 99, **KEEPER}, "no row of the table"),
        ({"decision": "give another", "other value": "=1+1", **KEEPER}, "holds a formula"),
    ],
)
def test_a_line_that_cannot_be_taken_is_named_by_row_and_nothing_is_written(
    folder: Path, book: Path, change: dict[str, Any], words: str
) -> None:
    fill(book, {**DECIDED, ("lives.csv", 2): change})
    done = run("check", folder, "--take", book)
    assert done.exit_code != 0
    assert "mend.xlsx [Odd cells] row 2" in done.output
    assert words in " ".join(done.output.split())
    assert not (folder / MENDS_FILE).exists()


def test_what_is_typed_over_on_a_copied_sheet_is_told(folder: Path, book: Path) -> None:
    made = openpyxl.load_workbook(book)
    made["2 Fleet"]["B6"] = 812
    made.save(book)
    done = " ".join(run("check", folder, "--take", book).output.split())
    assert "[2 Fleet] row 6, column 'Hours': '812' is typed over 'lots'" in done
    assert not (folder / MENDS_FILE).exists()


def test_a_workbook_of_another_version_of_the_file_is_refused(folder: Path, book: Path) -> None:
    fill(book, DECIDED)
    (folder / "lives.csv").write_bytes(LIVES.replace("900", "910").encode())
    done = run("check", folder, "--take", book)
    assert done.exit_code != 0
    assert "the file has changed since" in " ".join(done.output.split())
    assert not (folder / MENDS_FILE).exists()


def no_archive(path: Path) -> None:
    path.write_bytes(b"PK\x03\x04 and no more")


def other_archive(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as z:
        z.writestr("note.txt", "no workbook")


def far_cell(path: Path) -> None:
    made = openpyxl.load_workbook(path)
    made[LIST]["XFD1048576"] = "far"
    made.save(path)


def other_heads(path: Path) -> None:
    made = openpyxl.load_workbook(path)
    made[LIST]["N1"] = "verdict"
    made.save(path)


def no_list(path: Path) -> None:
    made = openpyxl.load_workbook(path)
    del made[LIST]
    made.save(path)


@pytest.mark.parametrize("spoil", [no_archive, other_archive, far_cell, other_heads, no_list])
def test_a_workbook_that_is_none_of_ours_is_refused_by_the_readers_own_limits(
    folder: Path, book: Path, spoil: Callable[[Path], None]
) -> None:
    spoil(book)
    done = run("check", folder, "--take", book)
    assert done.exit_code not in (0, 3)
    assert "mend.xlsx" in done.output
    assert not (folder / MENDS_FILE).exists()


def test_a_workbook_with_decisions_is_not_written_over(folder: Path, book: Path) -> None:
    data = book.read_bytes()
    done = run("check", folder, "--out", book)
    assert done.exit_code != 0
    assert "may hold decisions" in done.output
    assert book.read_bytes() == data
    assert run("check", folder, "--out", folder / "mend.csv").exit_code != 0
    assert run("check", folder, "--out", "a.xlsx", "--untake", "1").exit_code != 0
