"""Near ids found by columns are those found by comparing each with each."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.records.near_ids import near_pairs, one_slip

IDS = st.lists(
    st.one_of(
        st.text("E01", min_size=0, max_size=6),
        st.text("Ä1-\U0001f600", min_size=2, max_size=5),
        st.sampled_from(["E1234", "E1243", "E124", "E12345", "E1234X", "1234"]),
    ),
    max_size=30,
)


@settings(max_examples=300, deadline=None)
@given(ids=IDS, step=st.floats(0.1, 3.0), reach=st.floats(0.0, 6.0), most=st.integers(1, 40))
def test_as_each_with_each(ids: list[str], step: float, reach: float, most: int) -> None:
    hours = step * np.arange(len(ids))
    far = np.full(len(ids), reach)
    want = {
        (i, j)
        for i in range(len(ids))
        for j in range(i + 1, min(i + 1 + most, len(ids)))
        if hours[j] - hours[i] <= far[j] and one_slip(ids[i], ids[j])
    }
    assert set(near_pairs(ids, hours, far, most)) == want


def test_one_slip_by_hand() -> None:
    slips = [
        ("E123", "E124"),
        ("E123", "E132"),
        ("E123", "E1230"),
        ("E123", "123"),
        ("abc", "abxc"),
    ]
    others = [
        ("E123", "E123"),
        ("E123", "E145"),
        ("E1", "E2"),
        ("E123", "E321"),
        ("E123", "E12345"),
    ]
    assert all(one_slip(a, b) and one_slip(b, a) for a, b in slips)
    assert not any(one_slip(a, b) or one_slip(b, a) for a, b in others)
