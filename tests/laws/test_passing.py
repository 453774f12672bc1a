"""Lives by month and entries at risk, found at once, are what asking each life each time gives.

Invented lives; the direct counts below are the definitions (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.spells import Spells
from fleetstats.survival.change import passing
from fleetstats.survival.change.passing import passing_by_month
from fleetstats.survival.change.shares import Lines, month_edges, month_shares, part_shares
from fleetstats.survival.counting.entry_check import estimate_entry_check


def made(seed: int, n: int, *, whole: bool, decimals: int) -> tuple[Lines, np.ndarray]:
    r = np.random.default_rng(seed)
    entry = np.round(r.uniform(0, 400, n) * (r.random(n) < 0.5), decimals)
    day = 730_000.0 + np.floor(r.uniform(0, 2500, n))
    lines = Lines(
        entry_h=entry,
        end_h=entry + np.round(r.uniform(1, 900, n), decimals) + 1.0,
        entry_day=day,
        end_day=day + 1.0 + np.floor(r.uniform(0, 1500, n)),
        weight=r.integers(1, 4, n).astype(float) if whole else r.uniform(0.1, 1.0, n),
    )
    return lines, np.flatnonzero(r.random(n) < 0.3)


def directly(x: Lines, failed: np.ndarray, edge: np.ndarray) -> np.ndarray:
    """Return the shares by asking every life at every failure."""
    out = []
    for age in x.end_h[failed]:
        here = (x.entry_h < age) & (age <= x.end_h)
        slope = (x.end_day - x.entry_day) / (x.end_h - x.entry_h)
        day = (x.entry_day + (age - x.entry_h) * slope)[here]
        month = np.clip(np.searchsorted(edge, day, side="left") - 1, 0, len(edge) - 2)
        told = np.bincount(month, weights=x.weight[here], minlength=len(edge) - 1)
        out.append(told / told.sum())
    return np.array(out)


@pytest.mark.parametrize("decimals", [0, 1, 6])
@pytest.mark.parametrize("slots", [0.01, 4])  # many ages to a slot, and few
def test_months_of_whole_lives_are_the_same_digits(
    decimals: int, slots: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passing, "SLOTS_AN_AGE", slots)
    for seed in range(6):
        x, failed = made(seed, 90, whole=True, decimals=decimals)
        edge = month_edges(float(x.entry_day.min()), float(x.end_day.max()) - 200.0 * (seed % 2))
        got = month_shares(x, failed, edge)
        assert np.array_equal(got.share, directly(x, failed, edge))


def test_months_of_part_weights_are_the_same_within_rounding() -> None:
    x, failed = made(9, 200, whole=False, decimals=1)
    edge = month_edges(float(x.entry_day.min()), float(x.end_day.max()))
    got = month_shares(x, failed, edge).share
    # sums of 200 weights in another order
    np.testing.assert_allclose(got, directly(x, failed, edge), rtol=0, atol=1e-13)
    assert got.min() >= 0.0


def test_no_age_and_ages_that_no_life_passes_have_no_life() -> None:
    x, _ = made(2, 20, whole=True, decimals=1)
    edge = month_edges(float(x.entry_day.min()), float(x.end_day.max()))
    args = ((x.entry_h, x.end_h), (x.entry_day, x.end_day), x.weight)
    assert month_shares(x, [], edge).share.shape == (0, len(edge) - 1)
    (told,) = passing_by_month(*args, [(None, np.array([5000.0]))], edge)
    assert told.sum() == 0.0


def test_the_shares_of_parts_are_those_of_their_lives_alone() -> None:
    x, failed = made(5, 200, whole=True, decimals=1)
    edge = month_edges(float(x.entry_day.min()), float(x.end_day.max()))
    kind = np.random.default_rng(5).integers(0, 3, len(x))
    none = np.zeros(0, dtype=int)
    # parts that share lives, parts that do not, and lives of no part of a set
    masks = [*(kind == k for k in range(3)), kind < 2, x.weight > 1.0, kind == 5]
    parts = [(None, failed), *((mine, failed[mine[failed]]) for mine in masks), (None, none)]
    got = part_shares(x, edge, parts)
    for (mine, which), told in zip(parts, got, strict=True):
        at = np.arange(len(x)) if mine is None else np.flatnonzero(mine)
        own = Lines(
            entry_h=x.entry_h[at], end_h=x.end_h[at], entry_day=x.entry_day[at],
            end_day=x.end_day[at], weight=x.weight[at],
        )  # fmt: skip
        alone = month_shares(own, np.searchsorted(at, which), edge)
        assert np.array_equal(told.share, alone.share)
        assert np.array_equal(told.month, alone.month)


def test_entries_at_risk_are_counted_as_pair_by_pair() -> None:
    """The sum over failures of entries before less after, and of all compared, counted in pairs."""
    for seed in range(4):
        r = np.random.default_rng(seed)
        n = 60
        entry = np.round(r.uniform(0, 300, n) * (r.random(n) < 0.7), -1)
        end = entry + np.round(r.uniform(1, 500, n), -1) + 10.0
        failed = r.random(n) < 0.5
        score = pairs = 0
        for i in np.flatnonzero(failed):
            for j in range(n):
                tied = failed[j] and end[j] == end[i]
                if j != i and entry[j] < end[i] and end[j] >= end[i] and not tied:
                    score += int(np.sign(entry[j] - entry[i]))
                    pairs += int(entry[j] != entry[i])
        got = estimate_entry_check(Spells.of(entry, end, failed), seed=1)
        assert got.n_pairs == pairs
        assert got.tau == score / pairs
