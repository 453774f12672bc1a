"""A long table in slices of its engines' numbers gives what all its rows at once give.

No outside source: the slices are held against the plain rule, and a table read in many slices
against itself in one.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from test_patterns import cut

from fleetstats.records.audit.far_lives import far_beyond
from fleetstats.spells.bulk import key_slices
from fleetstats.spells.bulk.bulk import read_bulk
from fleetstats.spells.bulk.key_slices import count_different, is_among, last_rows, slices_of
from fleetstats.study.study import read_study

WHOLE = np.iinfo(np.uint64).max


def keys(n: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.choice(rng.integers(0, WHOLE, max(n // 2, 1), dtype=np.uint64), n)


@pytest.mark.parametrize("n", [0, 1, 6, 50, 3000])
def test_slices_hold_every_row_once_and_rise(n: int, monkeypatch: pytest.MonkeyPatch) -> None:
    key = keys(n, 1)
    (one,) = slices_of(key)
    assert one.tolist() == list(range(n))
    monkeypatch.setattr(key_slices, "ROWS", 6)
    parts = list(slices_of(key))
    assert (len(parts) > 1) == (n > 12)
    assert sorted(np.concatenate([[], *parts]).tolist()) == list(range(n))
    ends = [(int(key[p].min()), int(key[p].max())) for p in parts if len(p)]
    assert all(a[1] < b[0] for a, b in pairwise(ends))


@pytest.mark.parametrize("n", [0, 5, 400])
def test_what_is_found_in_slices_is_what_is_found_at_once(
    n: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(2)
    key, which = keys(n, 3), rng.random(n) < 0.6
    hours, runs = np.round(rng.uniform(0, 9, n)), rng.random(n) < 0.5
    plain = [i for i in np.lexsort((~runs, hours, key)).tolist() if which[i]]
    after = [*plain[1:], -1]
    want = [i for i, j in zip(plain, after, strict=False) if j < 0 or key[j] != key[i]]
    for rows in (key_slices.ROWS, 6):
        monkeypatch.setattr(key_slices, "ROWS", rows)
        assert last_rows(key, hours, runs, which).tolist() == want
        assert count_different(key, which) == len(set(key[which].tolist()))
        for few in (key[:0], key[:3]):
            assert is_among(key, few).tolist() == [k in few.tolist() for k in key.tolist()]


def test_a_table_read_in_slices_is_the_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = cut(tmp_path, [30, 55], ["r-1.csv", "r-2.csv", "r-3.csv"], file="r-*.csv")
    here = read_bulk(read_study(folder), most_running=20)
    assert here.bulk.counts["duplicate-row"] == 1
    monkeypatch.setattr(key_slices, "ROWS", 8)
    there = read_bulk(read_study(folder), most_running=20)
    assert there.bulk == here.bulk
    assert there.running == here.running
    assert (there.labels, there.in_service) == (here.labels, here.in_service)


def test_the_greatest_alone_show_what_is_far() -> None:
    """Equal weights put every value in order; without weights the greatest alone are."""
    rng = np.random.default_rng(4)
    found = 0
    for n in (2, 3, 9, 11, 40, 41, 200, 2000):
        for high in (3.0, 9.0, 40.0):
            x = np.round(900.0 * rng.weibull(2.0, n), 1)
            x[: max(1, n // 25)] *= high
            alone, all_ = far_beyond(x), far_beyond(x, np.ones(n))
            assert alone.far.tolist() == all_.far.tolist()
            assert alone.next == all_.next or not alone.far.any()
            found += int(alone.far.any())
    assert 0 < found < 24  # some fleets have such a life, and some have none
