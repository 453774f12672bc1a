"""`fleetstats compare`: the walk on stdout, a report only when asked for."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from fleetstats.cli import main

DATASETS = Path(__file__).parents[2] / "datasets"
PAIR = [str(DATASETS / "on-condition-2025"), str(DATASETS / "on-condition")]


def test_the_walk_and_its_report(tmp_path: Path) -> None:
    out = tmp_path / "since-2025"
    got = CliRunner().invoke(main, ["compare", *PAIR, "--out", str(out)])
    assert got.exit_code == 0
    assert "The start of the overhaul band moved 250 h earlier" in got.stdout
    assert "targets.reliability: 0.85 → 0.9" in got.stdout
    assert "failed since" in got.stdout
    assert "not airworthiness approval" in got.stdout
    assert "Report: " in got.stderr
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "fleetstats compare on-condition-2025 on-condition" in page
    assert str(DATASETS.parent) not in page


def test_json_and_quiet() -> None:
    got = CliRunner().invoke(main, ["compare", *PAIR, "--json", "--quiet"])
    told = json.loads(got.stdout)
    assert told["data"]["failures_added"] == 4
    assert [s["key"] for s in told["steps"]] == [
        "before", "settings", "hours", "endings", "gone", "new"
    ]  # fmt: skip
    assert not got.stderr


def test_the_study_that_is_stopped_is_named_and_not_all_its_rows(tmp_path: Path) -> None:
    folder = tmp_path / "last-year"
    folder.mkdir()
    (folder / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\n[[records]]\nfile = "lives.csv"\n',
        encoding="utf-8",
    )
    rows = "".join(f"E-{i},x,running\n" for i in range(25))
    (folder / "lives.csv").write_text(f"engine,exit_hours,ending\n{rows}", encoding="utf-8")
    got = CliRunner().invoke(main, ["compare", str(folder), PAIR[1], "--quiet"])
    assert got.exit_code == 1
    assert "The audit stopped the study last-year at 25 findings" in got.stderr
    assert got.stderr.count("is not a number of hours") == 20
    assert "and 5 more; fleetstats check tells all." in got.stderr
