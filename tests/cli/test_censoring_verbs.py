"""The verbs sources and removals, and what a study says of both on its first page."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from fleetstats.chapters.compose import compose_report
from fleetstats.cli import main
from fleetstats.studies.analyse import analyse

DATASETS = Path(__file__).parents[2] / "datasets"
HEAD = """\
[study]
title = "Test fleet"
analysis_date = 2025-12-31
claimed_interval_h = {claim}
"""


def run(*args: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


def lives_text(*, recoded: bool = False, silent: bool = False) -> str:
    """Return 3 clubs of 60 engines; failures wear out (shape 4), other removals are random.

    `recoded`: nine of ten failures are written as prop strikes. `silent`: the first club writes
    its failures as running.
    """
    rng = np.random.default_rng(21)
    lines = ["engine,exit_hours,ending,cause,source"]
    for i in range(180):
        club = i % 3
        fails, stop = 1500.0 * rng.weibull(4.0), rng.uniform(500.0, 1600.0)
        sold = rng.exponential(20_000.0)
        end = min(fails, stop, sold)
        ending, cause = ("removed", "sold") if end == sold else ("running", "")
        if end == fails:
            ending, cause = "failed", "piston"
            if silent and club == 0:
                ending, cause = "running", ""
            elif recoded and rng.random() < 0.9:
                ending, cause = "removed", "prop strike"
        lines.append(f"E-{i},{end:.1f},{ending},{cause},club {club + 1}")
    return "\n".join(lines) + "\n"


def test_the_demo_is_honest(tmp_path: Path) -> None:
    out = run("removals", DATASETS / "tow-clubs", "--quiet", "--csv", tmp_path)
    assert out.exit_code == 0
    assert "No kind of removal that should be random is seen to come with age" in out.stdout
    assert {"removals.csv", "removals-by-source.csv"} <= {p.name for p in tmp_path.iterdir()}
    out = run("sources", DATASETS / "tow-clubs", "--quiet", "--csv", tmp_path)
    assert out.exit_code == 0
    assert "None of the 3 sources is seen to tell far fewer failures" in out.stdout
    assert (tmp_path / "sources-told.csv").is_file()


@pytest.mark.parametrize("verb", ["sources", "removals"])
def test_a_fleet_of_one_source_that_runs_has_neither(verb: str, tmp_path: Path) -> None:
    out = run(verb, DATASETS / "quiet-fleet")
    assert out.exit_code == 3
    assert run(verb, tmp_path / "nowhere").exit_code == 2


def test_failures_called_prop_strikes_are_named_with_what_they_turn(make_study) -> None:
    """The claim is supported only because the failures have another name."""
    study = make_study(lives_text(recoded=True), head=HEAD.format(claim=700))
    told = json.loads(run("removals", study.folder, "--json").stdout)
    strikes = next(k for k in told["kinds"] if k["kind"] == "prop strike")
    assert told["shown"] is True
    assert strikes["ageing"]["p_rising"] < 1e-6
    assert strikes["ageing"]["low"] > 2.0
    assert 0 < strikes["to_turn"] < strikes["n"]
    assert strikes["failure_high_all"] > told["accepted_failure"] > told["failure_high"]
    (proviso,) = {c["proviso"] for c in told["cautions"] if c["code"] == "aged-removals"}
    assert proviso == f"{strikes['n']:.0f} removals (prop strike) come with age, as failures do"
    honest = make_study(lives_text(), head=HEAD.format(claim=700))
    told = json.loads(run("removals", honest.folder, "--json").stdout)
    assert told["cautions"] == []


def test_a_silent_source_has_both_answers_on_the_first_page(make_study) -> None:
    study = make_study(
        lives_text(silent=True),
        head=HEAD.format(claim=900),
        records='\n[[records]]\nfile = "lives.csv"\n',
    )
    results = analyse(study)
    codes = {c.code: c for c in results.advice.cautions}
    assert "silent-source" in codes
    assert codes["silent-source"].proviso.startswith("club 1 told no failure where ")
    document = compose_report(results)
    box = next(b for s in document.sections if s.key == "answer" for b in s.blocks
               if getattr(b, "key", "") == "claim-box")  # fmt: skip
    rows = dict(r[:2] for r in box.rows)
    sides = results.chapters["sources"].sides
    assert rows["With all sources"] != rows["Without club 1"]
    assert sides[0].verdict == results.advice.verdict.word
    assert sides[0].failure_high == pytest.approx(
        1.0 - results.advice.verdict.reliability.low, rel=1e-12
    )
    # a rule of the study leaves it out, and then nothing is doubted
    rule = (
        '\n[[question.rules]]\nsource = "club 1"\ncounts_as = "excluded"\n'
        'reason = "tells of no failure"\n'
    )
    without = make_study(
        lives_text(silent=True), rule, head=HEAD.format(claim=900),
        records='\n[[records]]\nfile = "lives.csv"\n',
    )  # fmt: skip
    told = json.loads(run("sources", without.folder, "--json").stdout)
    assert told["sides"] == []
    assert len(told["lines"]) == 2
