"""`fleetstats calls` at a prompt."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from fleetstats.chapters.calls import CallList
from fleetstats.chapters.calls.section import compose_calls
from fleetstats.cli import main
from fleetstats.studies.single import read_base, work_some
from fleetstats.study.study import read_study

QUIET = str(Path(__file__).parents[2] / "datasets" / "quiet-fleet")


def test_the_list_is_printed_and_written(tmp_path: Path) -> None:
    out = tmp_path / "calls.csv"
    got = CliRunner().invoke(main, ["calls", QUIET, "--most", "2", "--out", str(out)])
    assert got.exit_code == 0, got.output
    assert "2 calls are expected to take the bound at 1,200 h from " in got.stdout
    assert "and 240 more: --out writes them all" in got.stdout
    assert 'file = "calls.csv"' in got.stderr
    assert len(out.read_text(encoding="utf-8").splitlines()) == 261


def test_the_list_as_json_says_the_same() -> None:
    got = CliRunner().invoke(main, ["calls", QUIET, "--most", "2", "--by", "owner", "--json"])
    told = json.loads(got.stdout)
    assert told["state"] == "listed"
    assert told["by"] == "owner"
    assert told["calls"][0]["n_engines"] == len(told["lines"]) == 260


def test_a_name_that_is_no_list_is_refused_before_any_work(tmp_path: Path) -> None:
    got = CliRunner().invoke(main, ["calls", QUIET, "--out", str(tmp_path / "c.pdf")])
    assert got.exit_code == 2
    assert ".xlsx or .csv" in got.stderr


def test_the_report_shows_the_first_calls_beside_the_plan() -> None:
    calls = work_some(read_base(read_study(QUIET)), ["calls"])["calls"]
    assert isinstance(calls, CallList)
    section = compose_calls(calls)
    assert section.blocks[0].text == calls.sentence  # type: ignore[union-attr]
    table = section.blocks[1]
    assert len(table.rows) == 10  # type: ignore[union-attr]
    # on the analysis date there is next to nothing to ask, and no section
    fresh = Path(QUIET).parent / "on-condition"
    assert "calls" not in work_some(read_base(read_study(fresh)), ["calls"])
