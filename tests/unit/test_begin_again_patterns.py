"""`begin NEW --from OLD FILE…` where OLD names its files by a pattern, or draws some of them.

The clubs and their sheets are invented; what each row says is their stated truth.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.records.guess.again import BegunAgain, begin_again
from fleetstats.records.guess.same_sheet import place_under
from fleetstats.records.guess.write import OPEN_MARK
from fleetstats.records.readers import read_records
from fleetstats.study.edit import copy_file
from fleetstats.study.files.drawn import drawn_folder
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.study import STUDY_FILE, read_study

TODAY = dt.date(2027, 1, 31)
HEAD = "Werk;Bh;Lage;Grund;Stand"
STUDY = """\
[study]
title = "Club engines"
analysis_date = 2025-12-31

[[records]]  # what the clubs sent
file = "PATTERN"
decimal = ","
[records.columns]
engine = "Werk"
exit_hours = "Bh"
ending = "Lage"
cause = "Grund"
last_reading_date = "Stand"
[records.endings]
# asked of each club
"brummt" = "running"
"peng" = "failed"
"""
NORTH = "N1;600,5;brummt;;2026-05-01\nN2;710,0;peng;Kolben;2026-06-01\n"
SOUTH = "S1;95,5;brummt;;2026-08-01\nS2;50,0;peng;Zylinder;2026-09-30\n"
READ = {"N1": "running", "N2": "failed", "S1": "running", "S2": "failed"}


def write(path: Path, rows: str, head: str = HEAD) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{head}\n{rows}", encoding="utf-8")
    return path


def earlier(tmp_path: Path, pattern: str, *names: str, study: str = STUDY) -> Path:
    for k, name in enumerate(names):
        write(tmp_path / "old" / name, f"{k}a;500,5;brummt;;2025-05-01\n")
    text = study.replace("PATTERN", pattern)
    (tmp_path / "old" / STUDY_FILE).write_text(text, encoding="utf-8")
    return tmp_path / "old"


def begin(tmp_path: Path, old: Path, *raw: Path) -> tuple[BegunAgain, dict[str, Any]]:
    told = begin_again(tmp_path / "new", old, raw, today=TODAY)
    text = (tmp_path / "new" / STUDY_FILE).read_text(encoding="utf-8")
    return told, tomllib.loads(text)


def endings(folder: Path) -> dict[str, str]:
    return {r.engine: r.ending for r in read_records(read_study(folder)).rows}


@pytest.mark.parametrize(
    ("pattern", "was", "now"),
    [
        ("club-*.csv", "club-n.csv", ""),
        ("returns/", "returns/n.csv", "returns/"),
        ("returns/*/*.csv", "returns/a/n.csv", None),
        ("back-*.csv", "back-n.csv", None),
    ],
)
def test_a_pattern_stays_where_it_means_this_years_files_and_is_named_out_where_not(
    tmp_path: Path, pattern: str, was: str, now: str | None
) -> None:
    old = earlier(tmp_path, pattern, was)
    raw = tmp_path / "raw"
    told, new = begin(tmp_path, old, write(raw / "club-n.csv", NORTH),
                      write(raw / "club-s.csv", SOUTH))  # fmt: skip
    said = "\n".join(told.lines)
    base = tomllib.loads(STUDY)["records"][0]
    if now is not None:
        assert [f["file"] for f in new["records"]] == [pattern]
        assert f"{now}club-n.csv and {now}club-s.csv are read so now, as {pattern} means" in said
    else:
        assert [f["file"] for f in new["records"]] == ["club-n.csv", "club-s.csv"]
        assert f"named in place of {pattern}, which does not mean them all" in said
    for f in new["records"]:
        assert {**f, "file": "PATTERN", "causes": 0} == {**base, "causes": 0}
    assert endings(tmp_path / "new") == READ


def test_a_pattern_that_would_mean_another_sheet_too_is_named_out(tmp_path: Path) -> None:
    old = earlier(tmp_path, "*.csv", "n.csv")
    raw = tmp_path / "raw"
    log = write(raw / "log.csv", "L1,2020-01-01,0,installed\nL1,2026-01-01,90.0,reading\n",
                "engine,date,hours,event")  # fmt: skip
    told, new = begin(tmp_path, old, write(raw / "club-n.csv", NORTH), log)
    assert [f["file"] for f in new["records"]] == ["club-n.csv", "log.csv"]
    assert "named in place of *.csv, which would mean other files too" in "\n".join(told.lines)
    assert {"N1", "N2", "L1"} == set(endings(tmp_path / "new"))


def test_files_that_are_not_read_alike_are_named_out_each_with_its_own(tmp_path: Path) -> None:
    """South's hours stand under another head: the pattern's one table cannot say both."""
    old = earlier(tmp_path, "club-*.csv", "club-n.csv")
    raw = tmp_path / "raw"
    south = write(raw / "club-s.csv", SOUTH, HEAD.replace("Bh", "Betriebsstunden"))
    told, new = begin(tmp_path, old, write(raw / "club-n.csv", NORTH), south)
    assert [(f["file"], f["columns"]["exit_hours"]) for f in new["records"]] == [
        ("club-n.csv", "Bh"), ("club-s.csv", "Betriebsstunden")]  # fmt: skip
    assert "named in place of club-*.csv, since they are not read alike" in "\n".join(told.lines)
    assert endings(tmp_path / "new") == READ


@pytest.mark.parametrize("pattern", ["club-*.csv", "back-*.csv"])
def test_a_word_that_no_map_knows_is_asked_wherever_it_stands(tmp_path: Path, pattern: str) -> None:
    old = earlier(tmp_path, pattern, pattern.replace("*", "n"))
    raw = tmp_path / "raw"
    files = [write(raw / f"club-{x}.csv", f"{x}1;95,5;im Eimer;;2026-08-01\n") for x in "ns"]
    begin(tmp_path, old, *files)
    path = tmp_path / "new" / STUDY_FILE
    text = path.read_text(encoding="utf-8")
    n_tables = text.count("[[records]]")
    assert n_tables == (1 if pattern == "club-*.csv" else 2)
    assert text.count(OPEN_MARK) == n_tables
    answered = text.replace('# "im Eimer" = "…"', '"im Eimer" = "failed"')
    path.write_text(answered, encoding="utf-8")
    assert endings(tmp_path / "new") == {"n1": "failed", "s1": "failed"}
    again = begin_again(tmp_path / "third", tmp_path / "new", files, today=TODAY)
    assert again.guessed.open_guesses == ()


def test_heads_that_need_no_map_tell_the_table_as_well(tmp_path: Path) -> None:
    """No name is alike and nothing is mapped: the line of heads says whose files these are."""
    heads = "engine,exit_hours,ending,last_reading_date"
    write(tmp_path / "old" / "a-1.csv", "A,5.0,lives on,2025-01-01\n", heads)
    write(tmp_path / "old" / "guests.csv", "G,7.0,lives on,2025-01-01,x\n", f"{heads},engine_type")
    text = ('[study]\ntitle = "Two clubs"\nanalysis_date = 2025-12-31\n'
            '[[records]]\nfile = "a-*.csv"\n'
            '[records.endings]\n"lives on" = "running"\n[[records]]\nfile = "guests.csv"\n'
            '[records.endings]\n"lives on" = "removed"\n')  # fmt: skip
    (tmp_path / "old" / STUDY_FILE).write_text(text, encoding="utf-8")
    raw = tmp_path / "raw"
    told, new = begin(
        tmp_path, tmp_path / "old",
        write(raw / "x.csv", "X,6.0,lives on,2026-01-01\n", heads),
        write(raw / "y.csv", "Y,6.0,lives on,2026-01-01\n", heads),
        write(raw / "z.csv", "Z,6.0,lives on,2026-01-01,x\n", f"{heads},engine_type"),
    )  # fmt: skip
    assert [f["file"] for f in new["records"]] == ["x.csv", "z.csv", "y.csv"]
    assert told.guessed.open_guesses == ()
    assert endings(tmp_path / "new") == {"X": "running", "Y": "running", "Z": "removed"}


def test_a_file_with_the_heads_of_records_that_are_drawn_is_refused(tmp_path: Path) -> None:
    """Drawn and copied, its engines would count twice; other files are taken beside it."""
    url = "https://club.example/engines.csv"
    copy = drawn_folder(RecordKeys(file=url)) + "/engines.csv"
    old = earlier(tmp_path, url, copy, study=STUDY + '[[records]]\nfile = "mine.csv"\n')
    heads = "engine,exit_hours,ending,last_reading_date"
    write(old / "mine.csv", "M,5.0,running,2025-01-01\n", heads)
    raw = tmp_path / "raw"
    north = write(raw / "north.csv", NORTH)
    with pytest.raises(SettingError, match="would count twice"):
        begin_again(tmp_path / "new", old, [north], today=TODAY)
    assert not (tmp_path / "new").exists()
    mine = write(raw / "mine.csv", "M,6.0,running,2026-01-01\n", heads)
    told, new = begin(tmp_path, old, mine)
    assert new["records"][0]["file"] == url
    assert any("draw this year's rows" in x for x in told.lines)


def test_nothing_is_left_behind_where_a_file_lies_in_the_folder_of_the_pattern(
    tmp_path: Path,
) -> None:
    old = earlier(tmp_path, "returns/", "returns/n.csv")
    write(tmp_path / "new" / "returns" / "club-s.csv", "mine")
    raw = [write(tmp_path / "raw" / f"club-{x}.csv", NORTH) for x in "ns"]
    with pytest.raises(SettingError, match="there already; nothing was written"):
        begin_again(tmp_path / "new", old, raw, today=TODAY)
    assert [p.name for p in (tmp_path / "new").rglob("*") if p.is_file()] == ["club-s.csv"]


def test_where_a_pattern_looks_is_told_by_the_reader_of_patterns() -> None:
    assert place_under("returns/**/*.csv", ["a.csv"]) == {"a.csv": "returns/a.csv"}
    assert place_under("returns/**/*.csv", ["a.xlsx"]) == {}
    assert place_under("a-?.csv", ["a-1.csv"], ["a-2.csv"]) == {}
    assert place_under("_a/*.csv", ["a.csv"]) == {}, "hidden folders are never read"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_table_is_copied_with_its_maps_and_remarks(end: str) -> None:
    text = (STUDY + '[[records]]\nfile = "b.csv"\n').replace("\n", end)
    out = copy_file(text, 1)
    got = tomllib.loads(out)["records"]
    assert got == [*(r := tomllib.loads(text)["records"]), r[0]]
    assert out.startswith(text)
    assert out.count("# asked of each club") == 2
    assert out.count("\n") == out.count(end)
    with pytest.raises(SettingError, match="no file number 3"):
        copy_file(text, 3)
    with pytest.raises(SettingError, match="cannot be changed line by line"):
        copy_file('records = [{file = "a.csv"}]\n', 1)
