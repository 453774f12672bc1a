"""`begin NEW --from OLD FILE…`: files of this year under the study of last year, new words asked.

The clubs and their sheets are invented; what each row says is their stated truth.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.records.guess.again import begin_again
from fleetstats.records.guess.write import OPEN_MARK
from fleetstats.records.readers import read_records
from fleetstats.study.carry import begin_from
from fleetstats.study.study import STUDY_FILE, read_study

TODAY = dt.date(2027, 1, 31)
HEAD = "Werk;Bh;Lage;Grund;Stand"
STUDY = """\
# agreed at the meeting of members
[study]
title = "Club engines"
analysis_date = 2025-12-31
claimed_interval_h = 1200

[[merge.decisions]]
engine = "4401"
take = "separate"
reason = "asked the owner"

[[records]]
file = "club-2025.csv"
source = "club A"
decimal = ","
[records.columns]
engine = "Werk"
exit_hours = "Bh"
ending = "Lage"
cause = "Grund"
last_reading_date = "Stand"
[records.endings]
"brummt" = "running"
"peng" = "failed"
"""
LAST = ("4401;500,5;brummt;;2025-05-01", "4402;710,0;peng;Kolben;2025-06-01")
THIS = ("4401;600,5;brummt;;2026-05-01", "4402;710,0;peng;Kolben;2025-06-01",
        "4403;95,5;im Eimer;;2026-08-01", "4404;50,0;Brummt;;2026-09-30")  # fmt: skip


def sheet(folder: Path, name: str, rows: tuple[str, ...], *above: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text("\n".join([*above, HEAD, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def old(tmp_path: Path) -> Path:
    folder = tmp_path / "old"
    sheet(folder, "club-2025.csv", LAST)
    (folder / STUDY_FILE).write_text(STUDY, encoding="utf-8")
    read_study(folder)
    return folder


def test_the_files_are_read_by_the_old_maps_and_the_new_word_is_asked(
    old: Path, tmp_path: Path
) -> None:
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS, "Unser Verein;;;;")
    told = begin_again(tmp_path / "new", old, [raw], today=TODAY)
    text = (tmp_path / "new" / STUDY_FILE).read_text(encoding="utf-8")
    was, now = tomllib.loads(STUDY), tomllib.loads(text)
    (file,), (earlier,) = now.pop("records"), was.pop("records")
    assert file == earlier | {"file": "club-2026.csv", "header_row": 2}
    assert now["study"].pop("analysis_date") == dt.date(2026, 9, 30)
    was["study"].pop("analysis_date")
    assert now == was
    assert f'# "im Eimer" = "…"    {OPEN_MARK}' in text
    assert text.count(OPEN_MARK) == 1
    assert [(p, g.what) for p, g in told.guessed.open_guesses] == [("club-2026.csv", "im Eimer")]
    said = "\n".join(told.lines)
    assert "club-2026.csv is read so now" in said
    assert "Left to you: analysis_date" not in said
    assert "put this year's" not in said
    records = read_records(read_study(tmp_path / "new"))
    assert {r.engine: r.ending for r in records.rows} == {
        "4401": "running", "4402": "failed", "4404": "running"}  # fmt: skip


def test_the_answer_to_the_new_word_counts_and_is_carried_on(old: Path, tmp_path: Path) -> None:
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS)
    begin_again(tmp_path / "new", old, [raw], today=TODAY)
    path = tmp_path / "new" / STUDY_FILE
    lines = path.read_text(encoding="utf-8").split("\n")
    at = next(i for i, x in enumerate(lines) if OPEN_MARK in x)
    lines[at] = '"im Eimer" = "failed"'
    path.write_text("\n".join(lines), encoding="utf-8")
    rows = read_records(read_study(tmp_path / "new")).rows
    assert sum(r.ending == "failed" for r in rows) == 2
    third = sheet(tmp_path / "raw3", "club-2027.csv", THIS)
    told = begin_again(tmp_path / "third", tmp_path / "new", [third], today=TODAY)
    assert told.guessed.open_guesses == ()


def test_a_new_map_leaves_what_is_open_in_its_own_table(old: Path, tmp_path: Path) -> None:
    """A cause never met stands in a map of its own, and the open ending stays among the endings."""
    rows = (*THIS, "4405;310,0;peng;Zylinder;2026-08-01")
    raw = sheet(tmp_path / "raw", "club-2026.csv", rows)
    begin_again(tmp_path / "new", old, [raw], today=TODAY)
    text = (tmp_path / "new" / STUDY_FILE).read_text(encoding="utf-8")
    assert tomllib.loads(text)["records"][0]["causes"] == {"Zylinder": "cylinder"}
    answered = text.replace('# "im Eimer" = "…"', '"im Eimer" = "failed"')
    assert tomllib.loads(answered)["records"][0]["endings"]["im Eimer"] == "failed"


def test_a_sheet_like_no_other_is_guessed_whole(old: Path, tmp_path: Path) -> None:
    raw = tmp_path / "raw"
    mine = sheet(raw, "club-2026.csv", THIS[:2])
    other = raw / "guests.csv"
    other.write_text("Serial no,Hours,Status,Last reading\nG-9,80,running,2026-10-05\n",
                     encoding="utf-8")  # fmt: skip
    told = begin_again(tmp_path / "new", old, [mine, other], today=TODAY)
    study = read_study(tmp_path / "new")
    assert [f.file for f in study.files] == ["club-2026.csv", "guests.csv"]
    assert [s.file for s in told.guessed.sheets] == ["club-2026.csv", "guests.csv"]
    assert {r.engine for r in read_records(study).rows} == {"4401", "4402", "G-9"}


def test_a_head_that_is_gone_is_guessed_anew(old: Path, tmp_path: Path) -> None:
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS[:2])
    raw.write_text(raw.read_text().replace("Bh;", "Betriebsstunden;"), encoding="utf-8")
    begin_again(tmp_path / "new", old, [raw], today=TODAY)
    (file,) = read_study(tmp_path / "new").files
    assert file.columns["exit_hours"] == "Betriebsstunden"
    assert file.columns["engine"] == "Werk"


def test_ways_of_writing_that_changed_are_told(old: Path, tmp_path: Path) -> None:
    (old / STUDY_FILE).write_text(STUDY.replace('decimal = ","', 'decimal = "."'), encoding="utf-8")
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS[:2])
    told = begin_again(tmp_path / "new", old, [raw], today=TODAY)
    assert any(x.startswith("decimal of club-2026.csv is carried as .") for x in told.carried.left)


def test_with_no_new_file_it_is_the_study_carried(old: Path, tmp_path: Path) -> None:
    """Asked both ways: the carried part is what `begin NEW --from OLD` carries."""
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS[:2])
    begin_from(tmp_path / "a", old)
    begin_again(tmp_path / "b", old, [raw], today=TODAY)
    a, b = (tomllib.loads((tmp_path / x / STUDY_FILE).read_text(encoding="utf-8")) for x in "ab")
    b["study"].pop("analysis_date")
    b["records"][0]["file"] = "club-2025.csv"
    assert a == b


def test_nothing_is_left_behind_where_it_cannot_be(old: Path, tmp_path: Path) -> None:
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS)
    new = tmp_path / "new"
    new.mkdir()
    (new / "club-2026.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(SettingError, match="there already; nothing was written"):
        begin_again(new, old, [raw], today=TODAY)
    assert [p.name for p in new.iterdir()] == ["club-2026.csv"]


def test_the_verb_takes_a_study_and_files(old: Path, tmp_path: Path) -> None:
    raw = sheet(tmp_path / "raw", "club-2026.csv", THIS)
    got = CliRunner().invoke(main, ["begin", str(tmp_path / "new"), "--from", str(old), str(raw)])
    assert got.exit_code == 0, got.output
    assert "Carried: how club-2025.csv is read" in got.stderr
    assert "OPEN: club-2026.csv: im Eimer" in got.stderr
    two = CliRunner().invoke(main, ["begin", str(tmp_path / "x"), "--from", str(old), str(old)])
    assert two.exit_code == 2
    assert "one earlier study" in two.stderr
