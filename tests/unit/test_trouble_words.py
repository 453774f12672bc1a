"""Words of trouble: which texts hint at a failure, and which say that there was none.

The texts are invented, in the way in which clubs write (from memory, no source).
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetstats.vocabulary.trouble import (
    FAILURE,
    FAILURE_WORDS,
    MAY_HINT,
    SIGN,
    SIGN_WORDS,
    hint_of,
    names_failure,
)

FAILED = (
    "Failed", "engine failure", "FAILED", "failed (in cruise)", "seized", "siezed in the circuit",
    "crank broke", "broken rod", "case burst", "holed piston", "thrown rod", "rod through case",
    "dropped a valve", "engine stopped in flight", "in-flight shutdown", "Motorschaden",
    "lost power, forced landing", "not running, seized", "no. 3 cylinder failed",
    "no 3 cyl failed", "not checked but failed", "never flew after it failed",
    "failed; no injuries", "no oil and seized", "has not flown since crank broke",
)  # fmt: skip
SIGNS = (
    "low compression cyl 3", "low-compression", "no compression on 3", "crack in the case",
    "cracked", "metal in the filter", "metal on the plug", "back in service", "Riss im Gehäuse",
    "out of limits", "low leak-down",
)  # fmt: skip
NOTHING = (
    "", "plug clean", "no metal", "No metal.", "no crack found", "no metal or cracks",
    "no metal/cracks", "metal: none",
    "not failed", "none failed", "never failed", "did not fail", "has not failed", "didn't fail",
    "no sign of failure", "no failures reported", "failures: 0", "free of metal",
    "no cracks, no metal", "none of the engines has failed", "metal propeller fitted",
    "sheet metal work", "keine Risse", "due by hours", "sold to the Smith family", "removed",
)  # fmt: skip


@pytest.mark.parametrize("text", FAILED)
def test_a_text_that_says_that_something_failed(text: str) -> None:
    hint = hint_of(text)
    assert hint is not None
    assert hint.grade == FAILURE


@pytest.mark.parametrize("text", SIGNS)
def test_a_text_that_says_that_something_was_wrong(text: str) -> None:
    hint = hint_of(text)
    assert hint is not None
    assert hint.grade == SIGN


@pytest.mark.parametrize("text", NOTHING)
def test_a_text_that_denies_it_or_says_nothing(text: str) -> None:
    assert hint_of(text) is None


@pytest.mark.parametrize(
    ("text", "hours"),
    [("failed at 766 h", 766.0), ("failed at 766", 766.0), ("broke at 1,234.5 hrs", 1234.5),
     ("seized after 766,5 hours", 766.5), ("failed @ 12.5 TT", 12.5), ("failed", None),
     ("failed at 2024-05-01", None), ("failed 2024-05-01", None), ("failed at 12/5", None),
     ("failed at 700 h or 800 h", None), ("failed, 900 h now", None)],
)  # fmt: skip
def test_the_hours_that_a_text_tells(text: str, hours: float | None) -> None:
    hint = hint_of(text)
    assert hint is not None
    assert hint.hours_h == hours


def test_heads_of_columns() -> None:
    assert names_failure("failed_at_h")
    assert names_failure("Failed at")
    assert names_failure("Failure mode")
    assert not names_failure("metal prop")
    assert not names_failure("colour")


@given(st.one_of(st.sampled_from([*FAILED, *SIGNS, *NOTHING]), st.text(max_size=40)))
def test_what_hints_is_seen_by_the_search_of_whole_columns(text: str) -> None:
    """The expression for whole columns may see too much, never too little."""
    if hint_of(text) is not None:
        pattern = MAY_HINT.replace(r"\x{FB00}-\x{FB06}", "\ufb00-\ufb06")
        pattern = pattern.replace(r"\x{FF00}-\x{FF5E}", "\uff00-\uff5e")
        assert re.search(pattern, text)


@pytest.mark.parametrize("pattern", [*FAILURE_WORDS, *SIGN_WORDS])
def test_each_word_of_the_list_hints(pattern: str) -> None:
    """A word written out of each pattern of the list, its first choice throughout."""
    word = pattern
    while "(" in word:
        word = re.sub(r"\((?:\?:)?([^()|]*)(?:\|[^()]*)?\)\??", r"\1", word)
    word = re.sub(r"\[(.)[^\]]*\]\??", r"\1", word.split("|")[0])
    word = re.sub(r".\?", "", word)
    assert hint_of(word) is not None, word
