"""Are sources that are all alike called different by chance?

Fleets are those of `alike_sources`: 2, 3, 6 or 10 sources that share one Weibull life, watched to
ages by chance. A fleet is called different when any of its sources is: the goal is 5 fleets in 100
at most. Before the chance of error was shared among the sources it was as in `UNSHARED`.

Measured once with 400 fleets a cell (Monte Carlo error 1.1 points at 5 %): see `MEASURED`.
"""

from __future__ import annotations

import pytest
from advice_fleets import made_settings
from alike_sources import alike

from fleetstats.chapters.between_sources import compare_groups_of
from fleetstats.survival.groups.groups import split_groups

UNSHARED = {
    (1.2, 25, 2): 0.0125, (1.2, 25, 3): 0.0525, (1.2, 25, 6): 0.0650, (1.2, 25, 10): 0.0825,
    (1.2, 60, 2): 0.0350, (1.2, 60, 3): 0.0425, (1.2, 60, 6): 0.0575, (1.2, 60, 10): 0.0800,
    (2.5, 20, 2): 0.0050, (2.5, 20, 3): 0.0000, (2.5, 20, 6): 0.0300, (2.5, 20, 10): 0.0400,
    (2.5, 120, 2): 0.0000, (2.5, 120, 3): 0.0000, (2.5, 120, 6): 0.0050, (2.5, 120, 10): 0.0000,
}  # fmt: skip
MEASURED = {
    (1.2, 25, 2): 0.0125, (1.2, 25, 3): 0.0150, (1.2, 25, 6): 0.0050, (1.2, 25, 10): 0.0025,
    (1.2, 60, 2): 0.0350, (1.2, 60, 3): 0.0075, (1.2, 60, 6): 0.0025, (1.2, 60, 10): 0.0025,
    (2.5, 20, 2): 0.0050, (2.5, 20, 3): 0.0000, (2.5, 20, 6): 0.0000, (2.5, 20, 10): 0.0000,
    (2.5, 120, 2): 0.0000, (2.5, 120, 3): 0.0000, (2.5, 120, 6): 0.0000, (2.5, 120, 10): 0.0000,
}  # fmt: skip
"""(shape, engines of each source, sources): share of fleets called different. 25 engines of shape
1.2 have about 7 failures and 60 have 17; 20 of shape 2.5 have 3 and 120 have 19."""


def called_different(shape: float, engines: int, sources: int, fleets: int) -> float:
    """Return the share of fleets of alike sources of which one is called different."""
    settings, called = made_settings(), 0
    for k in range(fleets):
        parts = split_groups(alike(sources, engines, shape, k), "source")
        called += any(r.verdict == "outside" for r in compare_groups_of(parts, settings))
    return called / fleets


def test_a_few_fleets_of_ten_alike_sources() -> None:
    """Of 12 fleets 4 or more called different would come once in 400 times at 5 %."""
    assert called_different(1.2, 25, 10, 12) < 4 / 12


@pytest.mark.slow
@pytest.mark.parametrize(("shape", "engines", "sources"), sorted(MEASURED))
def test_alike_sources_are_called_different_in_5_fleets_of_100_at_most(
    shape: float, engines: int, sources: int
) -> None:
    share = called_different(shape, engines, sources, 400)
    assert share == pytest.approx(MEASURED[shape, engines, sources], abs=0.003)
    assert share <= 0.05
