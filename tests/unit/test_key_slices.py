"""A long table in slices of its engines' numbers gives what all its rows at once give.

No outside source: the slices are held against the plain rule, and a table read in many slices
against itself in one.
"""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from test_patterns import cut

from fleetstats.records.audit.far_lives import days_in_service, far_beyond
from fleetstats.records.lives.plain_rows import NO_DAY
from fleetstats.spells.bulk import key_slices
from fleetstats.spells.bulk.bulk import read_bulk
from fleetstats.spells.bulk.bulk_join import join_marks
from fleetstats.spells.bulk.bulk_part import MARKS, read_part
from fleetstats.spells.bulk.bulk_running import find_bulk_running
from fleetstats.spells.bulk.key_slices import (
    count_different,
    is_among,
    last_rows,
    order_of_engines,
    slices_of,
)
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


def test_hours_that_two_marks_tell_alike_are_held_once(tmp_path: Path) -> None:
    folder = cut(tmp_path, [30, 55], ["r-1.csv", "r-2.csv", "r-3.csv"], file="r-*.csv")
    study = read_study(folder)
    once, twice, other = ([read_part((study, f)) for f in study.files] for _ in range(3))
    for part in (*twice, *other):
        assert part.marks["stop_h"] is part.marks["life_h"]
        part.marks["stop_h"] = part.marks["stop_h"].copy()
    other[1].marks["stop_h"] += 700.0  # on the meter, of lives since overhaul
    plain = np.concatenate([p.marks["life_h"] for p in once])
    shared, apart, over = (join_marks(x) for x in (once, twice, other))
    assert shared["stop_h"] is shared["life_h"]
    assert shared.keys() == apart.keys() == MARKS.keys()
    for name, column in shared.items():
        assert column.tolist() == apart[name].tolist()
    assert over["life_h"].tolist() == plain.tolist()
    assert sorted(set((over["stop_h"] - plain).tolist())) == [0.0, 700.0]


def test_days_in_service_are_whole_in_four_bytes() -> None:
    new = np.array([1, 700_000, NO_DAY, 738_000, 5], dtype=np.int32)
    last = np.array([3_652_059, NO_DAY, 738_100, 738_000, NO_DAY], dtype=np.int32)
    day = dt.date(2026, 2, 1)
    told = days_in_service(new, last, day)
    want = [3_652_058, day.toordinal() - 700_000, None, 0, day.toordinal() - 5]
    assert [None if x != x else x for x in told.tolist()] == want
    assert np.isnan(days_in_service(new, last, None)[[1, 2, 4]]).all()


@pytest.mark.parametrize("n", [0, 1, 7, 400])
@pytest.mark.parametrize("most", [1, 2, 300])
def test_rows_are_in_the_order_of_engines_and_then_of_what_is_told(n: int, most: int) -> None:
    """numpy's sort by all columns, of engines with many rows, with few, and with one each."""
    rng = np.random.default_rng(n + most)
    some = rng.choice(2**40, max(n // most, 1), replace=False).astype(np.uint64)
    key = rng.permutation(np.resize(some, n)) * np.uint64(2**23)
    hours, runs = np.round(rng.uniform(0, 5, n)), rng.random(n) < 0.5
    order, again = order_of_engines(key, hours, ~runs)
    want = np.lexsort((~runs, hours, key))
    assert order.tolist() == want.tolist()
    assert again.tolist() == [i > 0 and key[want[i - 1]] == key[want[i]] for i in range(n)]


def test_engines_of_one_row_each_run_as_by_the_rule_for_several(tmp_path: Path) -> None:
    """The rule for engines of any number of rows, asked of engines with one."""
    rows = [f"E{i:03d},0,{100 + i % 9},{'running' if i % 4 else 'removed'},{i % 3}"
            for i in range(700)]  # fmt: skip
    (tmp_path / "t.csv").write_text(
        "engine,entry_hours,exit_hours,ending,build\n" + "\n".join(rows)
    )
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "T"\nanalysis_date = 2026-02-01\n[merge]\nreturns = false\n'
        '[[records]]\nfile = "t.csv"\n'
    )
    study = read_study(tmp_path)
    for most in (10, 700):
        told = []
        for several in (True, False):
            parts = [read_part((study, study.of_shape("lives")[0]))]
            marks = join_marks(parts)
            told.append(find_bulk_running(parts, marks, most, several=several))
        assert told[0][0] == told[1][0]
        assert told[0][1].tolist() == told[1][1].tolist()
        assert told[0][0].n == 525
