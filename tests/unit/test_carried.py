"""One source, build or engine carries the answer only where chance would not move it so far."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fleetstats.advice import carried
from fleetstats.advice.carried import Weighing
from fleetstats.advice.equivalents import poisson_allowance
from fleetstats.spells import Spells


def weigh(spells: Spells, *, shape: float = 2.0) -> Weighing:
    return Weighing(spells=spells, shape=shape, confidence=0.95, seed=1)


def test_the_chance_is_that_of_all_sets_of_as_many_engines() -> None:
    """Eight engines, three of one source: 56 sets, counted one by one (exact permutation test)."""
    ages = np.array([100.0, 250.0, 300.0, 420.0, 500.0, 640.0, 700.0, 900.0])
    failed = np.array([0, 1, 0, 0, 1, 0, 1, 1])
    mine = np.isin(np.arange(8), [1, 4, 6])
    fleet = Spells.of(0.0, ages, failed, source=np.where(mine, "a", "b"), unit=list("stuvwxyz"))

    def bound(gone: tuple[int, ...]) -> float:
        kept = np.setdiff1d(np.arange(8), gone)
        return poisson_allowance(float(failed[kept].sum()), 0.95) / float((ages[kept] ** 2).sum())

    sets = [bound(s) for s in itertools.combinations(range(8), 3)]
    own = bound((1, 4, 6))
    share = min(sum(x <= own * (1 + 1e-12) for x in sets), sum(x >= own for x in sets)) / len(sets)
    weighed = weigh(fleet)
    each = np.column_stack([failed, (ages / 900.0) ** 2]).astype(float)
    got = weighed._chance_of(each, mine, "test")
    # of 4,000 draws: three standard errors of a share near 1 in 20
    assert got == pytest.approx(2.0 * share, abs=2.0 * 3.0 * np.sqrt(share / carried.DRAWS))


def test_a_source_that_holds_all_failures_carries_and_one_like_the_others_does_not() -> None:
    ages = np.linspace(100.0, 1000.0, 90)
    place = np.arange(90)
    for failing, said in ((place % 3 == 0, True), (place % 2 == 0, False)):
        fleet = Spells.of(
            0.0, ages, failing & (place % 4 == 0), source=np.array(["a", "b", "c"])[place % 3],
            unit=[f"E-{i}" for i in place],
        )  # fmt: skip
        assert weigh(fleet).carries("source", "a", tried=3) is said


def test_an_engine_carries_where_it_alone_brings_over_a_fifth() -> None:
    """At shape 1 hours add up: 200 h of 1,000 h are a fifth, 201 h of 1,001 h are more."""
    for hours, said in ((200.0, False), (201.0, True)):
        ends = np.r_[np.full(8, 100.0), hours]
        fleet = Spells.of(0.0, ends, np.zeros(9), unit=list("abcdefghi"))
        assert weigh(fleet, shape=1.0).carries("unit", "i") is said


def test_a_group_without_which_nothing_is_left_carries_all() -> None:
    fleet = Spells.of(0.0, [100.0, 200.0], [0, 1], source=["a", "a"], unit=["x", "y"])
    assert weigh(fleet).carries("source", "a")
