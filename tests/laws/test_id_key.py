"""Two ids have one number exactly when they are the same engine."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.spells.bulk.bulk_lives import key_of
from fleetstats.vocabulary.id_key import hash_ids, sign_matrix
from fleetstats.vocabulary.ids import normalise_id

IDS = st.lists(
    st.text("0011aB9-_ ./#", min_size=1, max_size=9).filter(lambda s: normalise_id(s) != ""),
    min_size=2, max_size=40,
)  # fmt: skip


def numbers(ids: list[str]) -> np.ndarray:
    data = np.frombuffer("".join(ids).encode(), dtype=np.uint8)
    offsets = np.concatenate([[0], np.cumsum([len(i) for i in ids])])
    return hash_ids(sign_matrix(data, offsets))


@settings(max_examples=500, deadline=None)
@given(IDS)
def test_one_number_for_one_engine(ids: list[str]) -> None:
    got = numbers(ids).tolist()
    want = [normalise_id(i) for i in ids]
    for i in range(len(ids)):
        for j in range(i):
            assert (got[i] == got[j]) == (want[i] == want[j]), (ids[i], ids[j])


def test_by_hand() -> None:
    same = ["E-0101", "e0101", "E 101", "E101", "E-0-0101"]
    got = numbers(same)
    assert got[0] == got[1] == got[2] == got[3]
    assert got[4] != got[0]
    ids = ["1-11", "11-1", "111", "0", "00", "1-0", "1-00", "10"]
    key = dict(zip(ids, numbers(ids).tolist(), strict=True))
    assert len({key[k] for k in ("1-11", "11-1", "111", "0", "1-0", "10")}) == 6
    assert key["0"] == key["00"]
    assert key["1-0"] == key["1-00"]
    assert len(numbers(["E1"] * 2)) == 2


def test_ids_numbered_together_have_the_numbers_that_each_has_alone() -> None:
    ids = ["E1", "E-0101", "", "é-7", "E" * 200, "1-11", "é-7", "x" * 65, "x" * 64]
    alone = [int(key_of([x])[0]) for x in ids]
    assert key_of(ids).tolist() == alone
    assert key_of(ids[::-1]).tolist() == alone[::-1]
    ascii_only = [i for i, x in enumerate(ids) if x.isascii()]
    assert [alone[i] for i in ascii_only] == numbers([ids[i] for i in ascii_only]).tolist()
    assert len(set(alone)) == len(set(ids))
    assert key_of([]).tolist() == []
