"""Spells added up in any cut are the same weighted spells, and say the same."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.core.errors import FitError, SpellError
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.spells.tally import Tally
from fleetstats.survival.counting.product_limit import estimate_product_limit
from fleetstats.survival.weibull.fit_weibull import fit_weibull

ROW = st.tuples(
    st.integers(0, 5), st.integers(0, 3), st.integers(1, 4), st.integers(0, 3), st.integers(1, 3)
)


def columns(rows: list[tuple[int, int, int, int, int]]) -> tuple[np.ndarray, ...]:
    a = np.array(rows, dtype=np.float64).reshape(len(rows), 5)
    entry, upper = 50.0 * a[:, 0], 50.0 * (a[:, 0] + a[:, 1] + a[:, 2])
    lower = np.where(a[:, 3] == 1, 50.0 * (a[:, 0] + a[:, 1]), upper)
    return entry, lower, upper, a[:, 3].astype(np.int8), a[:, 4]


def row_set(s: Spells) -> list[tuple[float, ...]]:
    table = np.column_stack([s.entry, s.exit_lower, s.exit_upper, s.event, s.weight])
    return sorted(map(tuple, table.tolist()))


@settings(max_examples=200, deadline=None)
@given(rows=st.lists(ROW, min_size=1, max_size=60), cuts=st.lists(st.integers(0, 60), max_size=6))
def test_any_cut_collapses_to_the_same_rows(
    rows: list[tuple[int, int, int, int, int]], cuts: list[int]
) -> None:
    entry, lower, upper, event, weight = columns(rows)
    tally = Tally()
    edges = sorted({0, *(c for c in cuts if c < len(rows)), len(rows)})
    for a, b in itertools.pairwise(edges):
        tally.add(entry[a:b], lower[a:b], upper[a:b], event[a:b], weight[a:b])
    got = tally.spells()
    kind = list(map(Event, event))
    want = Spells.of(entry, upper, kind, exit_lower=lower, weight=weight).collapse()
    assert row_set(got) == row_set(want)
    assert got.weight.sum() == weight.sum()


def test_what_was_added_can_be_taken_away() -> None:
    entry, lower, upper, event, weight = columns(
        [(0, 1, 1, 0, 1), (0, 1, 1, 1, 2), (1, 1, 1, 2, 1)]
    )
    tally = Tally()
    tally.add(entry, lower, upper, event, weight)
    tally.add(entry[:2], lower[:2], upper[:2], event[:2], -weight[:2] + [0, 1])
    assert row_set(tally.spells()) == sorted(
        [(0.0, 50.0, 100.0, 1.0, 1.0), (50.0, 150.0, 150.0, 2.0, 1.0)]
    )
    tally.add(entry[:1], lower[:1], upper[:1], event[:1], -weight[:1])
    with pytest.raises(SpellError, match="taken away"):
        tally.spells()


def test_fits_and_counts_are_those_of_the_rows_one_by_one() -> None:
    rng = np.random.default_rng(1)
    stop = np.round(rng.uniform(100, 1500, 4000), -1)
    entry = np.where(rng.random(4000) < 0.3, np.round(stop * 0.3, -1), 0.0)
    life = np.round(1500 * (rng.exponential(size=4000) + (entry / 1500) ** 2) ** 0.5, -1)
    end, failed = np.minimum(np.maximum(life, entry + 10), stop), life <= stop
    each = Spells.of(entry, end, failed)
    tally = Tally()
    for i in range(0, 4000, 700):
        part = slice(i, i + 700)
        tally.add(entry[part], end[part], end[part], failed[part], np.ones(len(entry[part])))
    together = tally.spells()
    assert len(together) < len(each)
    # sums in another order differ in their last digits
    a, b = fit_weibull(each), fit_weibull(together)
    assert b.shape == pytest.approx(a.shape, rel=1e-11)
    assert b.scale_h == pytest.approx(a.scale_h, rel=1e-11)
    x, y = estimate_product_limit(each), estimate_product_limit(together)
    np.testing.assert_allclose(y.reliability, x.reliability, rtol=1e-12)
    np.testing.assert_array_equal(y.at_risk, x.at_risk)


def test_nothing_added_is_no_spell() -> None:
    assert len(Tally().spells()) == 0
    with pytest.raises(FitError):
        estimate_product_limit(Tally().spells())
