"""`fleetstats selftest`: the table, its file, and the exit code of a miss."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import fleetstats.selftest
from fleetstats.cli import main
from fleetstats.selftest import run_selftest


def test_the_table_is_printed_and_written(tmp_path: Path) -> None:
    run = CliRunner().invoke(main, ["selftest", "--out", str(tmp_path / "s.csv")])
    assert run.exit_code == 0
    n = len(run_selftest().rows)
    assert f"{n} of {n} figures" in run.output
    assert "NIST/SEMATECH e-Handbook" in run.output
    with (tmp_path / "s.csv").open(encoding="utf-8", newline="") as f:
        rows = list(csv.DictReader(f))
    assert len(rows) == n
    assert ("scale", "606.528", "yes") in {(r["quantity"], r["here"], r["agrees"]) for r in rows}
    run = CliRunner().invoke(main, ["selftest", "--quiet"])
    assert run.output.splitlines() == [run_selftest().sentence]


def test_a_miss_ends_with_one(monkeypatch: pytest.MonkeyPatch) -> None:
    real = run_selftest()
    off = replace(real, rows=(replace(real.rows[0], agrees=False), *real.rows[1:]))
    monkeypatch.setattr(fleetstats.selftest, "run_selftest", lambda: off)
    run = CliRunner().invoke(main, ["selftest", "--json"])
    assert run.exit_code == 1
    told = json.loads(run.output)
    assert told["good"] is False
    assert told["n_agree"] == len(real.rows) - 1
    assert told["rows"][0]["agrees"] is False
    assert "DOES NOT AGREE" in CliRunner().invoke(main, ["selftest"]).output
