"""The claim for another source stands beside that for these engines, alone and in a study alike."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Two clubs"
analysis_date = 2026-02-01
claimed_interval_h = 550
[[records]]
file = "north.csv"
source = "north"
[[records]]
file = "south.csv"
source = "south"
"""


def make(folder: Path) -> Path:
    """Write two invented clubs of 60 engines each, of which two failed in either."""
    for club in ("north", "south"):
        lines = [
            f"{club}-{i},{300 + 12 * i},{'failed' if i in (20, 45) else 'running'}"
            for i in range(60)
        ]
        text = "\n".join(["engine,exit_hours,ending", *lines])
        (folder / f"{club}.csv").write_text(text + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


def test_claim_and_study_say_the_same_of_another_source(tmp_path: Path) -> None:
    folder = make(tmp_path)
    done = CliRunner().invoke(main, ["claim", str(folder), "--json"])
    told = json.loads(done.output)
    results = analyse(read_study(folder))
    assert told["sources"] == json.loads(json.dumps(results.chapters["between-sources"].to_dict()))
    claim = told["sources"]["claim"]
    assert (claim["these_state"], claim["new_state"]) == ("supported", "not-yet-shown")
    assert claim["new_failure_high"] > 0.1 >= claim["these_failure_high"] == told["failure_high"]
    assert "an engine of another source is not covered" in told["provisos"]
    assert told["provisos"] == list(results.chapters["claim"].provisos)
    text = CliRunner().invoke(main, ["claim", str(folder), "--quiet"]).output
    assert told["sources"]["sentence"] in text
