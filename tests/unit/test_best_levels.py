"""Best levels at many shapes at once are those sought one by one, and so are the verdicts on them.

The one-by-one search is the check: it knows the likelihood and its derivatives alone. Lives are
invented, many of them on purpose without a maximum.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pytest

from fleetstats.core.errors import NoMaximum
from fleetstats.core.seeds import stream
from fleetstats.survival import ascent
from fleetstats.survival.weibull.levels import best_levels
from fleetstats.survival.weibull.weibull_general import Lives, evaluate, prepare_lives


def messy(seed: int) -> Lives | None:
    """Return lives of all kinds; None where nothing failed or nothing survived anything."""
    rng = stream(seed, "best levels")
    n = int(rng.integers(1, (4, 12, 60, 200)[seed % 4]))
    upper = np.round(1500.0 * rng.weibull(rng.choice([0.5, 1.0, 2.0, 5.0]), n), 1) + 0.001
    entry = np.where(rng.random(n) < rng.choice([0.0, 0.5, 0.9]), upper, 0.0)
    entry = entry * rng.choice([0.3, 0.9, 0.999999])
    failed = rng.random(n) < rng.choice([0.1, 0.5, 1.0])
    between = failed & (rng.random(n) < rng.choice([0.0, 0.4, 1.0]))
    lower = np.where(between, upper * rng.choice([0.0, 0.5, 0.99]), upper)
    weight = rng.choice([1.0, 2.0, 0.5], n) if seed % 3 == 0 else np.ones(n)
    lives = prepare_lives(np.minimum(entry, lower), lower, upper, failed, weight)
    return lives if lives.n_failed and len(lives.stop) else None


def search(lives: Lives, levels: Any) -> tuple[str, float, float, float]:
    with np.errstate(all="ignore"):
        try:
            peak = ascent._search(partial(evaluate, lives), lives.n_failed, levels)
        except NoMaximum as e:
            return e.reason, 0.0, 0.0, 0.0
    return "peak", peak.theta, peak.level, peak.value


@pytest.mark.parametrize("block", range(8))
def test_the_search_ends_alike_either_way(block: int) -> None:
    ends = set()
    for seed in range(20 * block, 20 * block + 20):
        lives = messy(seed)
        if lives is not None:
            (one, *at), (other, *there) = (
                search(lives, x) for x in (None, partial(best_levels, lives))
            )
            assert one == other, seed
            assert at == pytest.approx(there, rel=1e-7, abs=1e-7), seed
            ends.add(one)
    assert "peak" in ends
    assert len(ends) > 1


def test_at_the_best_level_the_likelihood_is_level() -> None:
    """Written out by `evaluate`: its slope in the level vanishes, at shapes from flat to steep."""
    shape = np.geomspace(0.01, 50.0, 9)
    looked_at = 0
    for seed in range(40):
        lives = messy(seed)
        if lives is None:
            continue
        for b, level, value in zip(shape, *best_levels(lives, shape), strict=True):
            with np.errstate(all="ignore"):
                told, grad, _ = evaluate(lives, float(b), float(level))
            if not np.isfinite(grad[1]):
                continue  # past what powers of ages can hold
            looked_at += 1
            assert abs(grad[1]) < 1e-7 * lives.n_failed, (seed, b)
            assert value == pytest.approx(told, rel=1e-9, abs=1e-9), (seed, b)
    assert looked_at > 200
