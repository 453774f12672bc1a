"""Are sources that are all alike called different by chance?

X
life of shape 2.5, of 20 engines (about 3 failures) or 120 engines (about 19 failures) each. A fleet
is called different when any source is: the goal is 5 fleets in 100 at most. Before the chance of
error was shared among the sources it was as in `UNSHARED`.

Measured once with 400 fleets a cell (Monte Carlo error 1.1 points at 5 %): see `MEASURED`.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from between_pools import pool

from fleetstats.chapters.groups.compute import compare_all
from fleetstats.survival.groups.groups import split_groups

UNSHARED = {}
MEASURED = {}


def called_different(sources: int, engines: int, fleets: int) -> float:
    """Return the share of fleets of alike sources of which one is called different."""
    settings, called = made_settings(), 0
    for k in range(fleets):
        lives, _ = pool(np.random.default_rng([12, sources, engines, k]), sources, engines, 0.0)
        ratios = compare_all(split_groups(lives, "source"), settings)
        called += any(r.verdict == "outside" for r in ratios)
    return called / fleets


def test_a_few_fleets_of_ten_alike_sources() -> None:
    """Of 12 fleets 4 or more called different would come once in 400 times at 5 %."""
    assert called_different(10, 60, 12) < 4 / 12


@pytest.mark.slow
@pytest.mark.parametrize(("sources", "engines"), sorted(MEASURED))
def test_alike_sources_are_called_different_in_5_fleets_of_100_at_most(
    sources: int, engines: int
) -> None:
    share = called_different(sources, engines, 400)
    assert share == pytest.approx(MEASURED[sources, engines], abs=0.003)
    assert share <= 0.05
