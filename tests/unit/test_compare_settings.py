"""Maps, rules and treatments are settings of a comparison: listed, and walked by themselves.

Invented engines, all running or failed at whole hours; no source.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.studies.compare.reread import reread
from fleetstats.studies.compare.settings import compare_settings, match_files
from fleetstats.study.study import Study, read_study

ROWS = [
    *[f"F{i},{400 + 20 * i},failed,piston" for i in range(20)],
    *[f"R{i},{500 + 10 * i},running," for i in range(60)],
]


def write(folder: Path, *, date: str = "2025-01-01", more: str = "", maps: str = "",
          file: str = "lives.csv", rows: list[str] = ROWS, head: str = "") -> Study:  # fmt: skip
    """Write a study of one file of lives and read it back."""
    folder.mkdir()
    (folder / file).write_text("\n".join([head or "engine,exit_hours,ending,cause", *rows]) + "\n")
    (folder / "study.toml").write_text(
        f'[study]\ntitle = "t"\nanalysis_date = {date}\nclaimed_interval_h = 500\n{more}\n'
        f'[[records]]\nfile = "{file}"\nsource = "club"\n{maps}\n'
    )
    return read_study(folder)


def changes(old: Study, new: Study) -> list[tuple[str, str, str]]:
    return [(c.key, c.before, c.after) for c in compare_settings(old, new)]


RULE = '[[question.rules]]\ncause = "piston"\ncounts_as = "{}"\nreason = "why"'


@pytest.mark.parametrize(
    ("more", "maps", "expected"),
    [
        ("", 'endings = { failed = "planned-overhaul" }',
         ("records.lives.csv.endings.failed", "not there", "planned-overhaul")),
        ("", 'causes = { piston = "sold" }',
         ("records.lives.csv.causes.piston", "not there", "sold")),
        ("", "header_row = 1", ("records.lives.csv.header_row", "0", "1")),
        ('[treat]\nhours-unreadable = "set-aside"', "",
         ("treat.hours-unreadable", "not there", "set-aside")),
        (RULE.format("excluded"), "",
         ("question.rules", "not there", "cause: piston; counts_as: excluded; reason: why")),
        ("[evidence]\nprior_shape_median = 3.0000001", "",
         ("evidence.prior_shape_median", "3.0", "3.0000001")),
    ],
)  # fmt: skip
def test_what_one_study_maps_or_rules_is_listed(
    tmp_path: Path, more: str, maps: str, expected: tuple[str, str, str]
) -> None:
    old = write(tmp_path / "old")
    new = write(tmp_path / "new", date="2026-01-01", more=more, maps=maps)
    assert changes(old, new) == [expected]
    key, before, after = expected
    assert changes(new, old) == [(key, after, before)]


def test_rules_in_another_order_are_a_change(tmp_path: Path) -> None:
    """The first rule that matches decides."""
    a, b = RULE.format("excluded"), RULE.format("censored")
    old, new = (write(tmp_path / n, more=x) for n, x in (("a", f"{a}\n{b}"), ("b", f"{b}\n{a}")))
    assert changes(old, new) == [("question.rules", "in one order", "in another, which decides")]
    assert changes(old, old) == []


def test_a_return_of_another_name_is_the_same_sender_s(tmp_path: Path) -> None:
    maps = 'endings = { failed = "lost" }'
    old = write(tmp_path / "old", file="club-2025.csv", maps=maps)
    new = write(tmp_path / "new", file="club-2026.csv", maps=maps)
    assert match_files(old, new) == ((1, 1),)
    assert changes(old, new) == []
    # of two returns of which neither name nor sender is known, none is taken for the other
    twice = replace(new, files=tuple(replace(new.files[0], file=f"{x}.csv", source="")
                                     for x in "ab"))  # fmt: skip
    assert match_files(old, twice) == ()
    assert ("records.a.csv.endings.failed", "not there", "lost") in changes(old, twice)


def walked(old: Path, new: Path) -> dict[str, Any]:
    got = CliRunner().invoke(main, ["compare", str(old), str(new), "--json", "--quiet"])
    assert got.exit_code == 0, got.output
    told: dict[str, Any] = json.loads(got.stdout)
    return told


def test_a_map_that_hides_failures_owns_its_move(tmp_path: Path) -> None:
    """The records are the same, so no step of the records may have moved anything."""
    write(tmp_path / "old")
    write(tmp_path / "new", maps='endings = { failed = "planned-overhaul" }')
    told = walked(tmp_path / "old", tmp_path / "new")
    failed = {s["key"]: s["figure"]["n_failed"] for s in told["steps"]}
    assert list(failed) == ["before", "settings", "reading", "hours", "endings", "gone", "new"]
    assert failed["settings"] == 20
    assert {failed[k] for k in ("reading", "hours", "endings", "gone", "new")} == {0}
    assert told["data"]["failures_added"] == -20
    assert told["trouble"] == ""
    assert reread(*(read_study(tmp_path / "old"),) * 2) is None


def test_records_that_the_later_study_cannot_read_are_said_so(tmp_path: Path) -> None:
    """The earlier file has a cell that only the earlier study sets aside."""
    write(tmp_path / "old", rows=[*ROWS, "X,abc,failed,piston"],
          more='[treat]\nhours-unreadable = "set-aside"')  # fmt: skip
    write(tmp_path / "new")
    told = walked(tmp_path / "old", tmp_path / "new")
    assert "reading" not in [s["key"] for s in told["steps"]]
    assert "The audit stopped the study old" in told["trouble"]
    page = tmp_path / "out"
    got = CliRunner().invoke(
        main, ["compare", str(tmp_path / "old"), str(tmp_path / "new"), "--out", str(page)]
    )
    assert "cannot be read by the later study's maps, rules and treatments" in got.stdout
    assert "cannot be read by the later study" in (page / "report.html").read_text()


def test_columns_of_its_own_are_kept_where_the_later_ones_do_not_fit(tmp_path: Path) -> None:
    """Last year's heads were ours; this year's are the club's, and its map would find nothing."""
    write(tmp_path / "old")
    write(tmp_path / "new", head="engine,Zeit,ending,cause",
          maps='columns = { exit_hours = "Zeit" }')  # fmt: skip
    told = walked(tmp_path / "old", tmp_path / "new")
    assert told["trouble"] == ""
    assert {s["figure"]["n_failed"] for s in told["steps"]} == {20}


def test_the_number_of_a_comparison_follows_both_study_files(tmp_path: Path) -> None:
    numbers = set()
    for name, maps in (("a", ""), ("b", 'causes = { piston = "valve" }'), ("c", "header_row = 1")):
        write(tmp_path / name, maps=maps)
        out = tmp_path / f"out-{name}"
        CliRunner().invoke(
            main, ["compare", str(tmp_path / "a"), str(tmp_path / name), "--out", str(out)]
        )
        numbers.add(json.loads((out / "report.json").read_text())["report_id"])
    assert len(numbers) == 3
