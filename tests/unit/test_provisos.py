"""A supported claim carries what is open about it in its own sentence, on every face alike."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.compose import compose_report
from fleetstats.cli import main
from fleetstats.document.words import verdict_face
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.provisos import MOST_SAID, but, but_open, provisos_of

DEMO = Path(__file__).parents[2] / "datasets" / "quiet-fleet"
OPEN = "5 further failures have no hours"


@pytest.fixture(scope="module")
def results() -> Results:
    return analyse(read_study(DEMO))


def with_open(results: Results, *clauses: str) -> Results:
    more = [Caution(code="fate-unknown", text="…", value=c, proviso=c) for c in clauses]
    return qualify(results, (*results.advice.cautions, *more))


def test_every_sentence_that_says_supported_says_what_is_open(results: Results) -> None:
    told = with_open(results, OPEN)
    verdict, claim = told.advice.verdict, told.chapters["claim"]
    assert verdict is not None
    assert verdict.word == "supported"
    document = compose_report(told)
    sentences = {
        "verdict": verdict.sentence,
        "first screen": document.answer[0],
        "may be quoted": claim.may_quote,  # type: ignore[attr-defined]
    }
    for name, text in sentences.items():
        first = next(s for s in text.split(". ") if "support" in s or "at most" in s)
        assert OPEN in first, name
    assert "open" in verdict_face(document).text
    assert "open" in str(claim).splitlines()[0].split(":")[0]
    assert document.tabulated is not None
    assert OPEN in document.tabulated.note
    assert OPEN in json.dumps(told.to_dict())


def test_a_verdict_that_is_not_supported_says_no_clause(results: Results) -> None:
    verdict = results.advice.verdict
    assert verdict is not None
    not_yet = replace(results, advice=replace(
        results.advice, verdict=replace(verdict, word="not-yet-shown")))  # fmt: skip
    told = with_open(not_yet, OPEN).advice.verdict
    assert told is not None
    assert told.provisos[-1] == OPEN
    assert OPEN not in told.sentence
    assert told.open_matters == ""


def test_first_rank_comes_first_and_each_clause_once() -> None:
    second = Caution(code="fate-unknown", text="", proviso="b")
    first = Caution(code="base-rate-gap", text="", proviso="a")
    assert provisos_of([second, first, second, Caution(code="calendar", text="")]) == ("a", "b")


def test_more_clauses_than_a_sentence_bears_are_counted() -> None:
    many = [f"c{i}" for i in range(MOST_SAID + 2)]
    assert but(many).endswith("and 2 further matters are open")
    assert but(many[: MOST_SAID + 1]).endswith("and 1 further matter is open")
    assert but(()) == but_open(()) == ""


def test_study_and_claim_say_the_same_clauses(results: Results) -> None:
    verdict = results.advice.verdict
    assert verdict is not None
    ran = CliRunner().invoke(main, ["claim", str(DEMO), "--json"])
    told = json.loads(ran.stdout)
    assert tuple(told["provisos"]) == verdict.provisos
    assert told["may_quote"] == results.chapters["claim"].may_quote  # type: ignore[attr-defined]


def test_what_a_sentence_has_said_is_not_said_again() -> None:
    told = "; 5 further failures have no hours and are not in this figure: with them at most 7 %"
    again = "5 further failures have no hours and are not in this figure"
    assert but((again,), told) == ""
    assert but((again, "figures differ"), told) == ", but figures differ"
