"""The verbs pool, causes and hidden: stdout, exit codes, CSV, on the demo data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fleetstats.cli import main

DATASETS = Path(__file__).parents[2] / "datasets"


def run(*args: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


def test_pool_cannot_tell_and_says_so(tmp_path: Path) -> None:
    """No failure in either build: nothing is learned of their ratio."""
    out = run("pool", DATASETS / "quiet-fleet", "--csv", tmp_path)
    assert out.exit_code == 3
    assert "does not permit pooling" in out.stdout
    assert "not airworthiness approval" in out.stdout
    assert {"pooling-build.csv", "influence.csv"} <= {p.name for p in tmp_path.iterdir()}


def test_causes_and_hidden(tmp_path: Path) -> None:
    out = run("causes", DATASETS / "on-condition", "--quiet", "--csv", tmp_path)
    assert out.exit_code == 0
    assert out.stdout.startswith(
        "The leading causes of failures in question are exhaust valve and piston: "
    )
    assert (tmp_path / "causes.csv").is_file()
    out = run("causes", DATASETS / "quiet-fleet")
    assert out.exit_code == 3
    assert "No failure in the records has a cause." in out.stdout


def test_hidden_lists_every_doubt(tmp_path: Path) -> None:
    out = run("hidden", DATASETS / "quiet-fleet", "--quiet", "--csv", tmp_path)
    assert out.exit_code == 0
    assert "no longer be shown with 3 unreported failures" in out.stdout
    assert "At the public rate of 1.2 per 10,000 h" in out.stdout
    assert "  failures that nobody reported: " in out.stdout
    assert (tmp_path / "hidden-scenarios.csv").is_file()
    told = json.loads(run("hidden", DATASETS / "quiet-fleet", "--json").stdout)
    assert told["schema"].startswith("fleetstats/hidden/")


def test_events_by_kind_and_ahead(tmp_path: Path) -> None:
    out = run("events", DATASETS / "workshop", "--quiet", "--csv", tmp_path)
    assert out.exit_code == 0
    assert (
        "  part changed: 51 events on 34 lives since overhaul, 0.70 per 1,000 h (0.55 to 0.89)"
        in out.stdout
    )
    assert "Over the next 12 months" in out.stdout
    assert {"recurrent-kinds.csv", "recurrent-ahead.csv"} <= {p.name for p in tmp_path.iterdir()}
    out = run("events", DATASETS / "quiet-fleet")
    assert out.exit_code == 3
    assert "The study has no log" in out.stdout


@pytest.mark.parametrize("verb", ["pool", "causes", "hidden", "events"])
def test_no_study_is_wrong_usage(verb: str, tmp_path: Path) -> None:
    assert run(verb, tmp_path / "nowhere").exit_code == 2
