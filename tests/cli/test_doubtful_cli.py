"""What `check` says of rows that are no engine, lives that cannot be and lives told twice.

Tables are made up; each trick's truth is stated with it.
"""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from fleetstats.cli import main

STUDY = """\
[study]
title = "made"
analysis_date = 2025-12-31
claimed_interval_h = 800
{more}
[[records]]
file = "lives.csv"
source = "club"
"""
HEAD = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
LIVES = [
    f"{90.7 + 41.3 * k:.1f},running,201{k % 7}-03-{k % 28 + 1:02d},2025-06-{k % 28 + 1:02d}\n"
    for k in range(30)
]


def run(folder: Path, verb: str, rows: str, more: str = "", *options: str) -> Result:
    (folder / "lives.csv").write_text(HEAD + rows, encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.format(more=more), encoding="utf-8")
    return CliRunner().invoke(main, [verb, str(folder), *options])


def fleet(name: str = "K6") -> str:
    return "".join(f"{name}-{100 + 3 * k},{x}" for k, x in enumerate(LIVES))


def test_a_sheet_that_ends_with_a_total_and_a_signature_passes(tmp_path: Path) -> None:
    got = run(tmp_path, "check", fleet() + "30 engines,,,,\nTotal:,20686.5,,,\nSigned: Mo,,,,\n")
    assert got.exit_code == 0
    assert "33 rows read = 30 used + 3 set aside" in got.stdout
    assert "(3 totals-row)" in got.stdout
    assert "'30 engines' reads as a total or a signature" in got.stdout


def test_a_total_under_a_serial_stops_and_is_named(tmp_path: Path) -> None:
    got = run(tmp_path, "check", fleet() + "K6-999,20686.5,running,,\n")
    assert got.exit_code != 0
    assert "sum-of-rows (stops the study)" in got.stdout
    assert "lives.csv row 32, column 'exit_hours'" in got.stdout


def test_a_life_of_a_digit_too_many_is_named(tmp_path: Path) -> None:
    got = run(tmp_path, "check", fleet() + "K6-999,12791,running,,\n")
    assert got.exit_code == 0
    assert "hours-far (used)" in got.stdout
    assert "12,791 h is far beyond every other life" in got.stdout


def test_copied_rows_are_named_and_the_claim_says_what_one_of_each_would(tmp_path: Path) -> None:
    got = run(tmp_path, "check", fleet() + fleet("MUH"))
    assert "copied-life (used)" in got.stdout
    assert "one of 30 rows like that; chance would have fewer than 1" in got.stdout
    told = run(tmp_path, "claim", fleet() + fleet("MUH"))
    assert told.exit_code == 0
    assert "30 lives have the hours and dates of another engine" in told.stdout
    one = run(tmp_path, "claim", fleet())
    assert "another engine to the digit" not in one.stdout


def test_ids_that_look_alike_are_named_for_running_engines(tmp_path: Path) -> None:
    rows = fleet() + "K6-1O0,25,running,2024-01-01,2025-06-01\n"
    got = run(tmp_path, "check", rows)
    assert (
        "'K6-1O0' and 'K6-100' in lives.csv row 2 differ only in signs that look alike"
        in " ".join(got.stdout.split())
    )
