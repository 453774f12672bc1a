"""The least number of engines that meets a target is that of trying one after the other."""

from __future__ import annotations

import math

import pytest

from fleetstats.chapters.plan.least_number import least_number
from fleetstats.core.seeds import stream


def _tried(values: list[float], target: float) -> tuple[int | None, list[int]]:
    """Return the number found of bounds (n + 1,), and those tried."""
    tried: list[int] = []

    def beyond(k: int) -> float:
        tried.append(k)
        return values[k] - target

    return least_number(beyond, target, len(values) - 1), tried


@pytest.mark.parametrize("seed", range(60))
def test_the_number_found_is_the_first_of_all(seed: int) -> None:
    """Every number tried by itself says so; bounds with steps, bends and numbers not asked of."""
    rng = stream(seed, "least number")
    n, target = int(rng.integers(0, 400)), float(rng.choice([0.5, 0.9, 0.999]))
    steps = rng.exponential(size=n + 1) * (rng.random(n + 1) < rng.choice([0.02, 0.3, 1.0]))
    hazard = 1.0 / (0.02 + rng.choice([0.1, 1.0, 30.0]) * steps.cumsum() / n if n else 1.0 + steps)
    values = [float(math.exp(-x)) for x in hazard]
    few = int(rng.integers(0, n + 2)) // 3
    values[:few] = [-math.inf] * few
    want = next((k for k, v in enumerate(values) if v >= target), None)
    found, tried = _tried(values, target)
    assert found == want
    assert len(set(tried)) == len(tried) or n == 0
    assert len(tried) <= 26


def test_a_smooth_bound_takes_few_trials() -> None:
    """Halving ten thousand takes 14 trials beside those of both ends."""
    values = [math.exp(-1.0 / (1.0 + (k / 900.0) ** 1.3)) for k in range(10_001)]
    for target in (0.5, 0.8, 0.95):
        found, tried = _tried(values, target)
        assert found == next(k for k, v in enumerate(values) if v >= target)
        assert len(tried) <= 11


def test_none_is_named_where_all_are_too_few_and_none_is_needed_where_it_stands() -> None:
    assert _tried([0.1, 0.2, 0.3], 0.5) == (None, [2])
    assert _tried([0.6, 0.7], 0.5) == (0, [1, 0])
    assert _tried([0.6], 0.5)[0] == 0
    assert _tried([-math.inf, -math.inf, 0.7], 0.5)[0] == 2
