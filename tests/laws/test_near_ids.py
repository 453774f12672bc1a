"""Near ids found by columns are those found by comparing each with each."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.records.audit.slip_pairs import WIDEST, slip_pairs
from fleetstats.records.near_ids import near_pairs, one_slip, slip_forms

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


def _form_by_form(ids: list[str], most: int) -> set[tuple[int, int]]:
    forms: dict[str, list[int]] = {}
    found = set()
    for j, x in enumerate(ids):
        for form in slip_forms(x):
            alike = forms.setdefault(form, [])
            found |= {(i, j) for i in alike[-most:] if one_slip(ids[i], x)}
            alike.append(j)
    return found


@settings(max_examples=200, deadline=None)
@given(ids=IDS, long=st.booleans(), most=st.integers(1, 40))
def test_all_pairs_by_columns_are_those_found_form_by_form(
    ids: list[str], long: bool, most: int
) -> None:
    ids = list(dict.fromkeys(("x" * WIDEST + x if long else x) for x in ids))
    i, j = slip_pairs(ids, most)
    assert set(zip(i.tolist(), j.tolist(), strict=True)) == _form_by_form(ids, most)
    assert (i < j).all()


def test_a_fleet_numbered_one_by_one_is_one_slip_apart_at_each_digit() -> None:
    i, _ = slip_pairs([f"E{k:03}" for k in range(1000)], 1000)
    exchanged = 2 * 10 * 90 // 2  # of two neighbours in three digits that differ
    assert len(i) == 3 * 1000 * 9 // 2 + exchanged
