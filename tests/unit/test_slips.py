"""Slips in a study file: the line, the place in it, and what was likely meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.study.slips.likely import likely_value
from fleetstats.study.slips.lines import line_of, shown_line
from fleetstats.study.study import read_study

HEAD = '[study]\ntitle = "Our fleet"\nanalysis_date = 2026-09-30\n'
TAIL = '[[records]]\nfile = "r.csv"\n'


def said(tmp_path: Path, text: str) -> str:
    (tmp_path / "r.csv").write_text("engine,exit_h,ending\nA1,100,running\n")
    (tmp_path / "study.toml").write_text(text, "utf-8")
    with pytest.raises(SettingError) as refused:
        read_study(tmp_path)
    return str(refused.value)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("level = 0,9", "Perhaps: level = 0.9"),
        ("level = 95%", "Perhaps: level = 0.95"),
        ("level = 95 %  # sure", "Perhaps: level = 0.95"),
        ("claimed_interval_h = 1000 h", "Perhaps: claimed_interval_h = 1000"),
        ("claimed_interval_h = 1 200", "Perhaps: claimed_interval_h = 1200"),
        ("claimed_interval_h = 1,200", "claimed_interval_h = 1200 or claimed_interval_h = 1.2"),
        ("analysis_date = 30.09.2026", "Perhaps: analysis_date = 2026-09-30"),
        ("analysis_date = 03/04/2026", "2026-04-03 (day first)"),
        ("since = 2024-9-1", "Perhaps: since = 2024-09-01"),
        ("stress = True", "Perhaps: stress = true"),
        ("title = Our fleet", 'title = "Our fleet"; texts stand in quotation marks'),
        ("title = “Our fleet”", 'Use plain quotation marks: title = "Our fleet"'),
        ('title = "Our fleet', 'A quotation mark is missing: title = "Our fleet"'),
        (r'file = "C:\Users\me\r.csv"', 'A path is written with /: file = "C:/Users/me/r.csv"'),
        ("title =", "Nothing stands after 'title ='"),
        ('causes = ["crankshaft"', "A ']' is missing in line 4: causes = ["),
        ("title: Our fleet", "stands =, not a colon: title = Our fleet"),
        ("sold on = 3", 'A name with blanks stands in quotation marks: "sold on" = …'),
        ("[question", "Perhaps: [question]"),
        ("please read this", "A line is 'key = value'"),
    ],
)
def test_a_line_that_is_no_toml_is_shown_with_what_was_likely_meant(
    tmp_path: Path, line: str, meant: str
) -> None:
    told = said(tmp_path, HEAD + line + "\n" + TAIL)
    assert "study.toml line " in told
    assert meant in told
    if "[" not in line:  # a bracket that is left open ends on a later line
        assert "study.toml line 4: " in told
        assert f"    {line}" in told


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ('confidence = "95%"', "line 4: study.confidence = \"95%\": must be a number, without "
         "quotation marks. Perhaps 0.95."),
        ('confidence = "0,9"', "Perhaps 0.9."),
        ("confidence = 95", "Perhaps 0.95, which is 95 %."),
        ("confidense = 0.9", "line 4: study.confidense: unknown key. Did you mean"),
    ],
)  # fmt: skip
def test_a_value_of_the_wrong_kind_has_its_line_and_what_was_likely_meant(
    tmp_path: Path, line: str, meant: str
) -> None:
    assert meant in said(tmp_path, f"{HEAD}{line}\n{TAIL}")


def test_a_date_in_quotation_marks_is_proposed_as_a_date(tmp_path: Path) -> None:
    told = said(tmp_path, HEAD.replace("2026-09-30", '"30.09.2026"') + TAIL)
    assert "line 3: study.analysis_date" in told
    assert "Perhaps 2026-09-30." in told


def test_a_map_whose_header_is_still_a_remark_is_told_so(tmp_path: Path) -> None:
    told = said(tmp_path, HEAD + TAIL + '# [records.endings]\n"sold" = "removed"\n')
    assert "The header [records.endings] above it is still a remark: take its # away." in told
    awake = HEAD + TAIL + '[records.endings]\n"sold" = "removed"\n'
    (tmp_path / "study.toml").write_text(awake)
    assert read_study(tmp_path).files[0].endings == {"sold": "removed"}


def test_the_line_of_a_key_is_found_in_the_file_that_holds_it_twice() -> None:
    text = HEAD + TAIL + '[[records]]\nfile = "s.csv"\n[records.columns]\nengine = "No."\n'
    assert line_of(text, "records[1].file") == 5
    assert line_of(text, "records[2].file") == 7
    assert line_of(text, "records[2].columns.engine") == 9
    assert line_of(text, "study.title") == 2
    assert line_of(text, "question.level") is None


def test_a_long_line_is_cut_around_its_place_and_holds_no_control_characters() -> None:
    shown = shown_line("x" * 300 + "\x1b!" + "y" * 300, 1, 302)
    line, mark = shown.split("\n")
    assert len(line) <= 104
    assert line[mark.index("^")] == "!"
    assert "\x1b" not in shown


@pytest.mark.parametrize("text", ["", "about 900", "12/2013", "31.02.2026", "nan", "1e400", "-"])
def test_what_is_not_plain_is_not_guessed(text: str) -> None:
    assert likely_value(text) == ""
