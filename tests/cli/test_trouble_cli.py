"""At the prompt and on the first page: no failure is lost without a word. Invented records."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fleetstats.cli import main

HEAD = """\
[study]
title = "Quiet club"
analysis_date = 2025-12-31
claimed_interval_h = 500
[evidence]
resamples = 200
[treat]
{treat}
[[records]]
file = "{file}"
shape = "{shape}"
"""
ASIDE = 'hours-missing = "set-aside"\nlog-hours-missing = "set-aside"'
LIVES = "engine,exit_hours,ending,cause,confirmed,note\n"
RUNNING = "".join(f"R{i},{700 + 7 * i},running,,,\n" for i in range(60))
LOG = "engine,date,hours,kind,cause,confirmed\n"
LOGGED = "".join(
    f"R{i},2015-01-01,0,installed,,\nR{i},2025-06-01,{700 + 7 * i},reading,,\n" for i in range(60)
)


def written(folder: Path, shape: str, rows: str, treat: str = ASIDE) -> Path:
    text = LIVES + RUNNING + rows if shape == "lives" else LOG + LOGGED + rows
    (folder / "x.csv").write_text(text, encoding="utf-8")
    head = HEAD.format(treat=treat, file="x.csv", shape=shape)
    (folder / "study.toml").write_text(head, encoding="utf-8")
    return folder


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


NO_HOURS = {
    "lives": "F1,,failed,crankshaft,yes,\nF2,,failed,piston,yes,\n",
    "log": (
        "F1,2015-01-01,0,installed,,\nF1,2020-01-01,300,reading,,\nF1,2021-01-01,,failed,piston,yes\n"
        "F2,2015-01-01,0,installed,,\nF2,2020-01-01,300,reading,,\nF2,2021-01-01,,failed,piston,yes\n"
    ),
}


@pytest.mark.parametrize("shape", ["lives", "log"])
def test_failures_without_hours_are_named_by_every_face(tmp_path: Path, shape: str) -> None:
    folder = str(written(tmp_path, shape, NO_HOURS[shape]))
    said = "2 rows hint at a failure: 2 set aside."
    assert said in run("check", folder, "--quiet").output
    told = json.loads(run("check", folder, "--json").output)
    assert told["trouble"]["n"] == 2
    assert told["trouble"]["counts"]["set-aside"] == 2
    assert len(told["left_out"]) == 2
    out = run("study", folder, "--out", str(tmp_path / "out"), "--quiet")
    assert said in out.output
    assert "2 further failures have no hours and are not in this figure" in out.output
    assert "No failure was reported" not in out.output
    results = json.loads(run("study", folder, "--out", str(tmp_path / "o"), "--json").stdout)
    assert results["built"]["trouble"]["counts"]["set-aside"] == 2
    codes = {c["code"]: c for c in results["advice"]["cautions"]}
    assert codes["failures-left-out"]["proviso"] == (
        "2 further failures have no hours and are not in this figure"
    )
    page = next((tmp_path / "out").glob("*.html")).read_text(encoding="utf-8")
    assert said in page
    assert "Every row that hints at a failure, and where it was counted" in page
    tables = [p for p in (tmp_path / "out").rglob("*.csv") if "trouble" in p.name]
    assert tables
    assert "set aside" in tables[0].read_text(encoding="utf-8")


@pytest.mark.parametrize("shape", ["lives", "log"])
def test_a_running_engine_with_a_confirmed_crankshaft_stops_the_study(
    tmp_path: Path, shape: str
) -> None:
    row = {
        "lives": "F1,800,running,crankshaft,yes,\n",
        "log": "F1,2015-01-01,0,installed,,\nF1,2025-01-01,800,reading,crankshaft,yes\n",
    }[shape]
    folder = str(written(tmp_path, shape, row))
    check = run("check", folder)
    assert check.exit_code == 3
    assert "error failure-or-not (stops the study)" in check.output
    study = run("study", folder, "--out", str(tmp_path / "out"), "--quiet")
    assert study.exit_code not in (0, 3)
    assert "failure-or-not" in study.output
    folder = str(written(tmp_path, shape, row, 'failure-or-not = "accept"'))
    out = run("study", folder, "--out", str(tmp_path / "out"), "--quiet").output
    assert "1 row hints at a failure: 1 not counted." in out
    assert "1 further possible failure is told beside an end that is none" in out


def test_by_chunks_the_same_is_said(tmp_path: Path) -> None:
    rows = NO_HOURS["lives"] + 'F3,900,running,,,"seized at 400 h, back in service"\n'
    folder = str(written(tmp_path, "lives", rows))
    text = (tmp_path / "study.toml").read_text() + "[merge]\nreturns = false\n"
    (tmp_path / "study.toml").write_text(text.replace("[[records]]", "[[records]]"), "utf-8")
    whole = run("study", folder, "--whole", "--out", str(tmp_path / "a"), "--quiet").output
    chunks = run("study", folder, "--chunks", "--out", str(tmp_path / "b"), "--quiet").output
    said = "3 rows hint at a failure: 2 set aside and 1 not counted."
    assert said in whole
    assert said in chunks
    caution = next(x for x in whole.splitlines() if "failures-left-out" in x)
    assert caution in chunks
