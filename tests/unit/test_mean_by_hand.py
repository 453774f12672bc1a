"""The robust error of a mean of events, and the stretch of each event, engine by engine."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.spells.histories import Histories
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative


def made(seed: int) -> Histories:
    """Return engines with several stretches, some joined and some apart, events on their edges."""
    rng = np.random.default_rng(seed)
    rows, events = [], []
    for engine in range(12):
        t = 0
        for _ in range(rng.integers(1, 4)):
            start = t + int(rng.choice([0, rng.integers(1, 50)]))
            t = start + int(rng.integers(1, 400))
            rows.append((f"e{engine}", start, t))
            events += [(f"e{engine}", h) for h in rng.integers(start + 1, t + 1, rng.poisson(2))]
            events += [(f"e{engine}", t)] * int(rng.random() < 0.3)
    rng.shuffle(rows)
    unit, start_h, end_h = zip(*((u, int(a), int(b)) for u, a, b in rows), strict=True)
    of, hours = zip(*events, strict=True)
    cost = rng.uniform(1, 5, len(of))
    return Histories.of(unit, start_h, end_h, of, np.array(hours, float), event_cost=cost)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("of", ["count", "cost"])
def test_robust_error_is_the_sum_over_engines(seed: int, of: str) -> None:
    """Each engine's own departure, added up (Lawless & Nadeau 1995, section 2)."""
    h = made(seed)
    size = np.ones(len(h.event_h)) if of == "count" else h.event_cost
    got = estimate_mean_cumulative(h, of=of)
    step = np.diff(got.mean, prepend=0.0)
    total = np.zeros(len(got.hours))
    for name in set(h.unit.tolist()):
        mine = h.unit == name
        watched = ((h.start_h[mine, None] < got.hours) & (got.hours <= h.end_h[mine, None])).any(0)
        own = np.array([size[(h.event_unit == name) & (h.event_h == t)].sum() for t in got.hours])
        total += np.cumsum(watched / got.at_risk * (own - step)) ** 2
    np.testing.assert_allclose(got.std_error, np.sqrt(total), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_an_event_belongs_to_the_stretch_that_holds_it(seed: int) -> None:
    h = made(seed)
    for k, i in enumerate(h.stretch_of_event().tolist()):
        assert h.unit[i] == h.event_unit[k]
        assert h.start_h[i] < h.event_h[k] <= h.end_h[i]
