"""Months of failures told by where lives pass from one to the next, and life by life."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from fleetstats.survival.change import shares
from fleetstats.survival.change.shares import Lines, month_edges, month_shares


def test_many_lives_at_once_are_told_as_one_by_one(monkeypatch):
    rng = np.random.default_rng(3)
    n = 400
    first = dt.date(2015, 3, 9).toordinal()
    entry_day = first + rng.integers(0, 900, n).astype(float)
    end_day = entry_day + rng.integers(1, 1500, n)
    entry_h = np.where(rng.random(n) < 0.5, 0.0, rng.uniform(0, 300, n).round(1))
    lines = Lines(
        entry_h=entry_h,
        end_h=entry_h + rng.uniform(1, 900, n).round(1),
        entry_day=entry_day,
        end_day=end_day,
        weight=rng.integers(1, 4, n).astype(float),
    )
    edges = month_edges(first + 40.0, float(end_day.max()) - 40.0)  # some lie outside
    failed = np.flatnonzero(rng.random(n) < 0.4)
    one_by_one = month_shares(lines, failed, edges)
    monkeypatch.setattr(shares, "MOST_PASSES", 0)
    at_once = month_shares(lines, failed, edges)
    assert at_once.share == pytest.approx(one_by_one.share, abs=1e-12)
    assert (at_once.month == one_by_one.month).all()
    assert len(edges) > 50
