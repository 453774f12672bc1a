"""Results as JSON by pieces: the very text that the library makes of the whole at once."""

from __future__ import annotations

import json
import tracemalloc
from typing import Any

import numpy as np
import pytest
from made_studies import document_of, results_of

from fleetstats.core.value import Floats, Value, plain, value
from fleetstats.report import json as report_json
from fleetstats.report.json import AT_ONCE, write_json_bytes, write_json_text


@value
class Pieced(Value):
    """A value with all that a result may hold."""

    name: str
    hours: Floats
    inside: Any = None


def at_once(told: Any) -> str:
    return json.dumps(plain(told), sort_keys=True, allow_nan=False, ensure_ascii=False,
                      indent=1) + "\n"  # fmt: skip


LONG = 2 * AT_ONCE + 7
ROWS = tuple({"z": i, "a": [f"line\n{i}", {"ü": float("nan")}]} for i in range(LONG))
DEEP: Any = 1
for _ in range(9):
    DEEP = {"in": DEEP, "many": [DEEP, []]}


@pytest.mark.parametrize(
    "told",
    [
        None, 0.5, float("inf"), "tex\nt", [], {}, (), {"b": 1, "a": {}}, {2: "two", 10: "ten"},
        ROWS, ROWS[:AT_ONCE], ROWS[: AT_ONCE + 1], DEEP, {"rows": ROWS, "set": frozenset("ba")},
        np.arange(LONG) / 3, np.ones((AT_ONCE + 1, 2)), np.float64(2.5),
        Pieced(name="\u20ac", hours=[1.0, np.nan] * LONG, inside=Pieced(name="", hours=[])),
        Pieced(name="x", hours=[], inside={"k": [Pieced(name="y", hours=[1])] * LONG}),
    ],
)  # fmt: skip
def test_pieces_give_the_text_of_the_whole(told: Any) -> None:
    assert write_json_text(told) == at_once(told)
    assert write_json_bytes(told) == at_once(told).encode()


def test_a_long_table_takes_little_more_than_its_text(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(report_json, "AT_ONCE", 50)
    rows = ROWS
    tracemalloc.start()
    text = write_json_bytes({"rows": rows})
    pieces = tracemalloc.get_traced_memory()[1]
    tracemalloc.reset_peak()
    at_once({"rows": rows})
    whole = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert pieces < 3 * len(text)
    assert pieces < 0.5 * whole


@value
class SaysItself(Value):
    """A value whose dictionary says more than its fields."""

    hours: float

    def to_dict(self) -> dict[str, Any]:
        """Return it with its half."""
        return Value.to_dict(self) | {"half_h": self.hours / 2.0, "a b": 1, "a": 2}


def test_a_value_that_says_itself_what_it_holds_is_taken_at_its_word() -> None:
    alone = SaysItself(hours=3.0)
    for told in (alone, Pieced(name="x", hours=[1.0], inside=(alone, {"k": [alone]}))):
        assert write_json_text(told) == at_once(told)
    assert '"half_h": 1.5' in write_json_text(alone)


@pytest.mark.parametrize("name", ["quiet-fleet", "tow-clubs"])
def test_a_study_is_written_as_its_dictionary_is(name: str) -> None:
    """Straight from the values, and by way of their plain form."""
    for told in (results_of(name), document_of(name)):
        assert write_json_text(told) == at_once(told.to_dict())
