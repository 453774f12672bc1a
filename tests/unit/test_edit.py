"""Edits of a study file touch the lines of one key and nothing else."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.core.errors import SettingError
from fleetstats.study.edit import add_file, remove_file, set_key, unset_key
from fleetstats.study.leaves import leaves_of
from fleetstats.study.scaffold import study_template
from fleetstats.study.study import read_study

ROOT = Path(__file__).parents[2]
TEXT = """\
# Ours since 2019; ask the secretary.
[study]            # what is asked
title = "A # in a title"   # not a comment before here
analysis_date = 2025-12-31
claimed_interval_h = 1200

[question]
causes = [
  "valve",   # the one that worries us
  "bearing",
]

[[records]]
file = "a.csv"
columns = {exit_hours = "TT"}

[records.endings]
"bust, again" = "failed"

# the second club writes its own words
[[records]]
file = "b.csv"
"""


def changed(before: str, after: str) -> list[str]:
    """Return the lines of `before` that are not in `after`, and of `after` that are new."""
    a, b = before.split("\n"), after.split("\n")
    return [f"-{x}" for x in a if x not in b] + [f"+{x}" for x in b if x not in a]


@pytest.mark.parametrize(
    ("path", "value", "lines"),
    [
        (("study", "title"), 'B "x" #2',
         ['-title = "A # in a title"   # not a comment before here',
          '+title = "B \\"x\\" #2"   # not a comment before here']),
        (("study", "analysis_date"), dt.date(2026, 1, 2),
         ["-analysis_date = 2025-12-31", "+analysis_date = 2026-01-02"]),
        (("study", "confidence"), 0.95, ["+confidence = 0.95"]),
        (("question", "causes"), ("crank",),
         ["-causes = [", '-  "valve",   # the one that worries us', '-  "bearing",', "-]",
          '+causes = ["crank"]']),
        (("records", 1, "columns", "entry_hours"), "Start",
         ['-columns = {exit_hours = "TT"}',
          '+columns = {"exit_hours" = "TT", "entry_hours" = "Start"}']),
        (("records", 1, "endings", "bust, again"), "removed",
         ['-"bust, again" = "failed"', '+"bust, again" = "removed"']),
        (("records", 1, "endings", "o/h"), "planned-overhaul", ['+"o/h" = "planned-overhaul"']),
        (("records", 2, "endings", "kaputt"), "failed", ["+kaputt = \"failed\""]),
        (("treat", "hours-impossible"), "set-aside",
         ["+[treat]", '+hours-impossible = "set-aside"']),
    ],
)  # fmt: skip
def test_one_key_changes_and_no_other_line(path: Any, value: Any, lines: list[str]) -> None:
    assert changed(TEXT, set_key(TEXT, path, value)) == lines


def test_a_table_of_the_second_file_goes_below_the_second_file() -> None:
    got = tomllib.loads(set_key(TEXT, ("records", 2, "endings", "kaputt"), "failed"))
    assert got["records"][1]["endings"] == {"kaputt": "failed"}
    assert got["records"][0]["endings"] == {"bust, again": "failed"}


def test_a_table_of_the_first_file_goes_below_the_first_file() -> None:
    got = set_key(TEXT, ("records", 1, "causes", "exh. valve"), "valve")
    assert got.index("[records.causes]") < got.index("# the second club")


def test_why_stands_behind_the_value_on_one_line() -> None:
    got = set_key(TEXT, ("treat", "copied-hours"), "accept", comment="seen\n[study]\nseed = 1")
    assert 'copied-hours = "accept"  # seen [study] seed = 1\n' in got


def test_unset_takes_the_line_away_and_undoes_a_set() -> None:
    assert unset_key(set_key(TEXT, ("study", "confidence"), 0.9), ("study", "confidence")) == TEXT
    assert changed(TEXT, unset_key(TEXT, ("study", "claimed_interval_h"))) == [
        "-claimed_interval_h = 1200"
    ]
    assert unset_key(TEXT, ("study", "seed")) == TEXT
    got = unset_key(TEXT, ("records", 1, "columns", "exit_hours"))
    assert "columns = {}" in got


def test_a_file_is_added_at_the_end() -> None:
    got = add_file(TEXT, {"file": "c d.xlsx", "sheet": "Sheet 1"})
    assert got == TEXT + '\n[[records]]\nfile = "c d.xlsx"\nsheet = "Sheet 1"\n'


def test_ends_of_lines_and_the_mark_at_the_start_stay() -> None:
    text = "\ufeff" + TEXT.replace("\n", "\r\n")
    got = set_key(text, ("study", "seed"), 7)
    assert got == text.replace("= 1200\r\n", "= 1200\r\nseed = 7\r\n")
    assert "\n" not in add_file(text, {"file": "c.csv"}).replace("\r\n", "")


def test_a_key_goes_below_the_comment_that_shows_its_default() -> None:
    got = set_key(study_template(), ("targets", "risk_per_check"), 0.01)
    at = got.split("\n").index("risk_per_check = 0.01")
    assert got.split("\n")[at - 1].startswith("# risk_per_check =")


@pytest.mark.parametrize(
    ("text", "path"),
    [("[study\n", ("study", "seed")), (TEXT, ("records", 3, "endings", "x")),
     ("study = {title = {a = 1}}\n", ("study", "title", "b", "c")),
     ('records = [{file = "a.csv"}]\n', ("records", 1, "source"))],
)  # fmt: skip
def test_what_cannot_be_edited_line_by_line_is_refused(text: str, path: Any) -> None:
    with pytest.raises(SettingError):
        set_key(text, path, 1)


@pytest.mark.parametrize("name", ["quiet-fleet", "tow-clubs", "workshop", "on-condition"])
def test_every_setting_of_the_demos_goes_and_comes_back(name: str) -> None:
    text = (ROOT / "datasets" / name / "study.toml").read_text("utf-8")
    raw = tomllib.loads(text)
    for leaf in leaves_of(read_study(ROOT / "datasets" / name)):
        table, _, key = leaf.key.partition(".")
        if leaf.name or not key or "[" in leaf.key or key not in raw.get(table, {}):
            continue
        bare = unset_key(text, (table, key))
        assert key not in tomllib.loads(bare).get(table, {})
        assert tomllib.loads(set_key(bare, (table, key), raw[table][key])) == raw


@settings(max_examples=60, deadline=None)
@given(word=st.text(min_size=1, max_size=20), value=st.text(max_size=20))
def test_any_word_is_set_as_it_stands_or_refused(word: str, value: str) -> None:
    try:
        got = set_key(TEXT, ("records", 2, "endings", word), value)
    except SettingError:
        # TOML has no way to write these, and our writer of texts does not try
        assert any(c == "\x7f" or "\ud800" <= c <= "\udfff" for c in word + value)
        return
    assert tomllib.loads(got)["records"][1]["endings"] == {word: value}
    assert unset_key(got, ("records", 2, "endings", word)).startswith(TEXT.rstrip("\n"))


THREE = """\
[study]
title = "T"

# the first
[[records]]
file = "a.csv"
[records.columns]
engine = "Serial"
# not used: "Colour"

[[records]]
file = "b.csv"  # by post

[treat]
[[records]]
file = "c.csv"
"""


@pytest.mark.parametrize(
    ("number", "gone"),
    [
        (1, '[[records]]\nfile = "a.csv"\n[records.columns]\nengine = "Serial"\n'
            '# not used: "Colour"\n\n'),
        (2, '[[records]]\nfile = "b.csv"  # by post\n\n'),
        (3, '[[records]]\nfile = "c.csv"\n'),
    ],
)  # fmt: skip
def test_a_file_goes_with_its_tables_and_their_remarks_and_nothing_else(
    number: int, gone: str
) -> None:
    assert remove_file(THREE, number) == THREE.replace(gone, "")
    again = add_file(remove_file(THREE, number), {"file": "d.csv"})
    assert [f["file"] for f in tomllib.loads(again)["records"]][-1] == "d.csv"


def test_a_file_that_is_not_there_or_no_table_is_not_taken_away() -> None:
    with pytest.raises(SettingError):
        remove_file(THREE, 4)
    with pytest.raises(SettingError):
        remove_file('records = [{file = "a.csv"}]\n', 1)


def test_a_new_table_of_a_file_leaves_remarks_in_the_table_above() -> None:
    """A line left open below the last value belongs to its table, and is filled in there."""
    text = (
        '[[records]]\nfile = "a.csv"\n[records.endings]\nup = "running"\n# "peng" = "…"\n\n'
        "# of all\n[study]\nseed = 1\n"
    )
    out = set_key(text, ("records", 1, "causes", "Kolben"), "piston")
    raw = tomllib.loads(out.replace('# "peng" = "…"', '"peng" = "failed"'))
    assert raw["records"][0]["endings"] == {"up": "running", "peng": "failed"}
    assert raw["records"][0]["causes"] == {"Kolben": "piston"}
    assert "# of all\n[study]" in out
