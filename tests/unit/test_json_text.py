"""JSON and cell texts by their short ways: what the plain ones give, letter by letter."""

from __future__ import annotations

import json
import math
import re
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fleetstats.core.value import plain
from fleetstats.document import cells
from fleetstats.report.json import write_json_text

LEAVES = (
    st.none() | st.booleans() | st.integers() | st.text(max_size=8)
    | st.floats(allow_nan=False, allow_infinity=False)
)  # fmt: skip
TREES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=25,
)


@given(TREES)
def test_the_text_is_that_of_the_library_s_own_indent(tree: Any) -> None:
    """The standard library's `json` with an indent of 1 and sorted keys."""
    told = json.dumps(tree, sort_keys=True, allow_nan=False, ensure_ascii=False, indent=1)
    assert write_json_text(tree) == told + "\n"


@given(st.lists(LEAVES | st.floats() | st.floats().map(np.float64), max_size=6))
def test_many_become_plain_as_each_by_itself(items: list[Any]) -> None:
    def one(x: Any) -> Any:
        if isinstance(x, float) and not math.isfinite(x):
            return None if math.isnan(x) else "infinity" if x > 0 else "-infinity"
        return x

    each = [one(x) for x in items]
    assert plain(items) == plain(tuple(items)) == each
    assert [type(x) for x in plain(items)] == [type(plain(x)) for x in items]
    numbers = np.array([x for x in items if isinstance(x, float)])
    assert plain(numbers) == [one(float(x)) for x in numbers]


def test_no_printable_letter_is_one_that_is_taken_out() -> None:
    """What is printable is passed on unseen: none of the forbidden ones may be."""
    every = "".join(map(chr, range(0x110000)))
    gone = re.findall(cells._CONTROL, every)
    assert len(gone) > 2_000
    assert not any(c.isprintable() for c in gone)
    assert cells.plain_text("a\x1bb") == "a\ufffdb"


def test_blanks_before_a_sign_do_not_hide_it() -> None:
    for text in ("=1", " =1", "\t1", " \t=1", "\n", "  -x", "\uff1d1", "|"):
        assert cells.neutral_text(text).startswith("'")
    for text in ("", " ", "1=1", " a", "h"):
        assert cells.neutral_text(text) == text
