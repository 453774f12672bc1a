"""Engines that drop off a list are placed among the others as each with each would place them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from made_lives import before, life

from fleetstats.chapters.sources.dropped import weigh_drop_off
from fleetstats.chapters.sources.placed import HourLines, place_among
from fleetstats.survival.counting.leaving import chance_of_ranks

STALE_DAYS = 400


def _hours_on(row, day: dt.date) -> float | None:
    if not row.in_service <= day <= row.last_date:
        return None
    share = (day - row.in_service).days / (row.last_date - row.in_service).days
    return share * row.exit_h


@pytest.mark.parametrize("days", [30, 4000])
def test_dropped_engines_are_placed_as_each_with_each_places_them(days):
    rng = np.random.default_rng(7)
    rows = []
    for i in range(250):
        last = before(int(rng.integers(0, days)))
        first = last - dt.timedelta(days=int(rng.integers(200, 5000)))
        ending = "lost" if rng.random() < 0.2 else "running"
        hours = float(rng.integers(1, 12)) * 100.0  # many alike
        rows.append(life(f"E{i}", hours, ending, in_service=first, last_reading=last))
    latest = max(r.last_date for r in rows)
    gone = [r for r in rows
            if r.ending == "lost" or (latest - r.last_date).days > STALE_DAYS]  # fmt: skip
    rank, size = [], []
    for r in gone:
        others = [h for x in rows if x is not r and (h := _hours_on(x, r.last_date)) is not None]
        if others:
            rank.append(1 + sum(h < r.exit_h for h in others))
            size.append(1 + len(others))
    told = weigh_drop_off(rows, STALE_DAYS)
    assert told is not None
    assert rank
    assert (told.n, told.n_ranked) == (len(gone), len(rank))
    assert told.p == chance_of_ranks(rank, size)
    share = [(k - 1) / (n - 1) for k, n in zip(rank, size, strict=True)]
    assert told.older == pytest.approx(sum(share) / len(share), rel=1e-12)


@pytest.mark.parametrize("days", [12, 3000])
def test_places_are_counted_as_each_against_each_line(days):
    rng = np.random.default_rng(8)
    n = 400
    first = rng.integers(0, days, n)
    begin = rng.integers(0, 9, n) * 100.0
    lines = HourLines(first=first, last=first + rng.integers(1, days, n), first_h=begin,
                  last_h=begin + rng.integers(-3, 12, n) * 50.0)  # fmt: skip
    day, hours = rng.integers(0, 2 * days, 300), rng.integers(0, 20, 300) * 50.0
    below, there = place_among(lines, day, hours)
    on = (lines.first <= day[:, None]) & (day[:, None] <= lines.last)
    under = on & (lines.hours_on(day[:, None]) < hours[:, None])
    assert below.tolist() == under.sum(axis=1).tolist()
    assert there.tolist() == on.sum(axis=1).tolist()
    assert below.any()
