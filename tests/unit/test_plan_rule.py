"""How many new engines a plan asks for: the least number that the rule shows, in few trials."""

from __future__ import annotations

import math

import pytest

from fleetstats.chapters.plan.rule import MOST_ENGINES, _least_count
from fleetstats.core.seeds import stream

MOST_TRIALS = 14


def _tried(behind: float, hazard: float, target: float, least: int) -> tuple[int | None, list[int]]:
    """Return the number found, and those tried, of a bound that rises as engines are added."""
    tried: list[int] = []

    def beyond(k: int) -> float:
        tried.append(k)
        return -math.inf if k < least else math.exp(-hazard / (behind + k) ** 1.05) - target

    return _least_count(beyond, target), tried


@pytest.mark.parametrize("seed", range(40))
def test_the_least_number_is_found_in_few_trials(seed: int) -> None:
    rng = stream(seed, "plan rule")
    behind, hazard = 10.0 ** rng.uniform(-1, 5), 10.0 ** rng.uniform(0, 2.5)
    target, least = float(rng.choice([0.9, 0.99, 0.999])), int(rng.integers(0, 30))
    found, tried = _tried(behind, hazard, target, least)
    # by hand: the bound is the target where the hazard over the engines is minus its log
    want = math.ceil((hazard / -math.log(target)) ** (1 / 1.05) - behind)
    assert found == max(want, least, 0)
    assert len(tried) <= MOST_TRIALS


def test_none_is_named_where_no_number_is_enough() -> None:
    assert _tried(1.0, 1e9, 0.999, 0)[0] is None
    found, tried = _tried(1.0, 1e9, 0.999, MOST_ENGINES + 5)
    assert found is None
    assert len(tried) <= 3 * MOST_TRIALS
