"""At a prompt an answer brings the cautions that qualify it, each with its code, and the notice."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.vocabulary.caution import STANDING_NOTICE

DATASETS = Path(__file__).parents[2] / "datasets"


def run(*words: str) -> str:
    done = CliRunner().invoke(main, list(words))
    assert done.exit_code in (0, 3), done.output
    return done.output


@pytest.mark.parametrize(
    ("verb", "study", "code"),
    [
        ("claim", "workshop", "few-failures"),
        ("plan", "workshop", "plan-risk"),
        ("bench", "on-condition", "bench-stress"),
    ],
)
def test_an_answer_brings_its_cautions(verb: str, study: str, code: str) -> None:
    folder = str(DATASETS / study)
    text = run(verb, folder)
    told = json.loads(run(verb, folder, "--json"))
    codes = [c["code"] for c in told["cautions"]]
    assert code in codes
    assert [line.split(")")[0].removeprefix("Caution (") for line in text.splitlines()
            if line.startswith("Caution (")] == codes  # fmt: skip
    own = "\n".join(x for x in text.splitlines() if not x.startswith("next: "))
    assert own.rstrip().endswith(STANDING_NOTICE[-1])
    # --quiet is the answer alone
    assert "Caution (" not in run(verb, folder, "--quiet")


def test_cautions_are_those_of_the_hours_asked_about() -> None:
    """1,200 h lie within the evidence of the fleet that did not fail, 1,600 h do not."""
    folder = str(DATASETS / "quiet-fleet")
    for hours, past in (("1200", False), ("1600", True)):
        told = json.loads(run("claim", folder, "--hours", hours, "--json"))
        assert ("past-support" in {c["code"] for c in told["cautions"]}) == past
