"""What is told to be a serial by its signs alone is one by the rules that look at its words."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.records.lives.life_reader import _names, is_plain_id
from fleetstats.tables.cells import is_blank, text
from fleetstats.vocabulary.ids import is_bare_serial
from fleetstats.vocabulary.totals import reads_as_total

PIECES = st.sampled_from(
    ["E", "e", "0", "00", "7", "12", "-", "_", "/", ".", " ", "total", "sum", "engines", "row",
     "signed", "mean", "n/a", "na", "none", "EXAMPLE", "unknown", "é", "1", "\n", "\u200b", "³"]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(pieces=st.lists(PIECES, max_size=6))
def test_a_bare_serial_is_no_blank_no_total_and_a_plain_id(pieces: list[str]) -> None:
    cell = "".join(pieces)
    assert is_plain_id(cell) == _names(cell)
    if is_bare_serial(cell):
        assert not is_blank(cell)
        assert not reads_as_total(text(cell))


@pytest.mark.parametrize("cell", ["27-engines", "Total", "EXAMPLE", "n/a", "", "-1", "E", "12 34"])
def test_what_needs_its_words_is_no_bare_serial(cell: str) -> None:
    assert not is_bare_serial(cell)


@pytest.mark.parametrize("cell", ["E-0101", "K6-12", "4711", "00", "SUM-0123", "12A"])
def test_usual_serials_are(cell: str) -> None:
    assert is_bare_serial(cell)
