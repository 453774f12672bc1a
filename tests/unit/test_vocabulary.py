"""Words of the records: which spellings are one word, and which words say nothing."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_ending
from fleetstats.tables.cells import is_blank
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling
from fleetstats.vocabulary.unknown import (
    SAYS_NOTHING,
    cause_known,
    pattern_of_nothing,
    says_nothing,
)


@pytest.mark.parametrize(
    "written",
    ["exhaust valve", "Exhaust-Valve", "EXHAUST_VALVE", " exhaust  valve ", "exhaust\u2011valve",
     "exhaust\u2013valve", "exhaust\u00a0valve", "\uff25xhaust valve", "exhaust - valve"],
)  # fmt: skip
def test_one_word_in_many_spellings(written: str) -> None:
    assert fold(written) == "exhaust valve"


@pytest.mark.parametrize(
    ("a", "b"), [("B1", "B1+"), ("valve (exhaust)", "valve (intake)"), ("n/a", "na"), ("1/2", "12")]
)
def test_other_signs_tell_words_apart(a: str, b: str) -> None:
    assert fold(a) != fold(b)


@given(st.text())
def test_folding_twice_changes_nothing(word: str) -> None:
    assert fold(fold(word)) == fold(word)


@given(st.text(alphabet="abcXYZ é-_ \u2013", min_size=1))
def test_signs_that_do_not_count(word: str) -> None:
    assert fold(word) == fold(word.upper()) == fold(word.replace("-", "_"))
    assert fold(word) == fold(f"  {word.replace(' ', '   ')} ")


def test_a_head_loses_its_unit_and_a_word_of_a_list_its_remark() -> None:
    assert plain_name("Exit-Hours [h]") == plain_name("exit_hours") == "exit hours"
    words = {"failed": 1, "overhaul (ill)": 2}
    assert meaning_of("Failed (in cruise)", words) == 1
    assert meaning_of("overhaul (ILL)", words) == 2
    assert meaning_of("overhaul (due)", words) is None


@pytest.mark.parametrize("word", [*SAYS_NOTHING, "Not-Stated", "UNDETERMINED", "none_given", "–"])
def test_every_place_that_asks_takes_a_word_as_unknown(word: str, make_study) -> None:
    assert says_nothing(word)
    assert not re.search("[0-9]", fold(word))
    assert not cause_known(word)
    assert is_blank(word)
    # a rule of the study on unknown causes meets it too
    rule = '[[question.rules]]\ncause = "unknown"\ncounts_as = "excluded"\nreason = "no word"\n'
    settings = make_study(settings=rule).settings
    life = LifeRow(
        origin=Origin(file="x.csv"), engine="E-1", exit_h=100.0, ending="failed", cause=word
    )
    assert judge_ending(life, settings).counts_as == "excluded"


@pytest.mark.parametrize("word", ["piston", "none found", "known", "unknown part", "nap", "0"])
def test_words_that_say_something(word: str) -> None:
    assert cause_known(word)
    assert not is_blank(word)


PARTS = [
    "unknown",
    "not",
    "stated",
    "known",
    "-",
    "_",
    " ",
    "n/a",
    "NA",
    "?",
    "x",
    "None",
    "0",
    "²",
]


@given(st.lists(st.sampled_from(PARTS), max_size=4))
def test_whole_columns_and_single_cells_have_one_list(parts: list[str]) -> None:
    word = "".join(parts)
    if word.isascii():
        assert bool(re.search(pattern_of_nothing(), word)) == says_nothing(word)
    # asked either way, with and without a look at its digits first
    assert says_nothing(word) != cause_known(word)


def test_the_shown_spelling_does_not_hang_on_the_order() -> None:
    words = {"Cam-Follower": 3, "cam follower": 5, "piston": 1, "Piston": 1}
    for order in itertools.permutations(words.items()):
        shown = one_spelling(dict(order))
        assert shown == {"cam follower": "cam follower", "piston": "Piston"}
    stated = one_spelling(words, known=("CAM follower", "cam-follower"))
    assert stated["cam follower"] == "CAM follower"
