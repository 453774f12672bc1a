"""Hours told in words never better a bound: neither against the truth, nor the wider they are told.

Made fleets; a third of all hours are told with a doubt. The bound is then held against the bound
with the true hours put in, drawn anew within the intervals: all at either edge, and mixed. Our own
brute force, no outside source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings
from made_lives import life

from fleetstats.advice.quoted import Quoter, reliability_low
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array
from fleetstats.records.rules import Ruling
from fleetstats.spells import Spells
from fleetstats.spells.edges import edges_of, held_at_ends
from fleetstats.survival.weibull.fit_weibull import try_fit

SETTINGS = made_settings(claim=900.0)
AT = Quantity.reliability(900.0)

CORNERS = 0.0015
"""Of a chance: failures are not held at every mixture of their ends. The worst of 36 fleets with
five truths each was 0.0010, and 0.0012 from one width to the next, when this was written; without
any hold it was 0.0093."""

CURVE = 0.005
"""Of a chance: hours more of a running engine that outlives others speak for a flatter curve, and
so for more at young ages, as `advice/quoted.py` says. The worst of the same fleets was 0.0043."""


def told(fleet: Spells, doubted: Array, width: float) -> tuple[Spells, Array, Array]:
    """Return a fleet with some hours told in words, and the edges of what is told."""
    at, failed = fleet.exit_upper, fleet.failed
    half = np.where(doubted, width * np.maximum(50.0, 0.05 * at), 0.0)
    low = np.maximum(at - half, fleet.entry * (1.0 + 1e-9) + 1e-6)
    low, high = np.minimum(low, at), at + half
    spells = fleet.replace(
        exit_lower=low,
        exit_upper=np.where(failed, high, low),
        in_words=np.where(failed & (low < high), 1.0, 0.0),
    )
    return spells, low, high


def bound(spells: Spells) -> float:
    """Return the greatest chance of failure by 900 h that may be quoted."""
    return 1.0 - (Quoter.of(spells, try_fit(spells), SETTINGS).interval(AT).low or 0.0)


def fleets(n: int, seed: int) -> Iterator[tuple[np.random.Generator, Spells, Array]]:
    rng = np.random.default_rng(seed)
    for _ in range(n):
        fleet = made_fleet(
            int(rng.integers(40, 150)),
            shape=float(rng.choice([1.0, 2.5, 4.0])),
            scale_h=float(rng.choice([1500.0, 3000.0, 8000.0])),
            seed=int(rng.integers(1_000_000)),
        )
        yield rng, fleet, rng.random(len(fleet)) < 0.3


@pytest.mark.parametrize("seed", range(2))
def test_a_wider_doubt_never_betters_the_bound(seed: int) -> None:
    moved = 0
    for _, fleet, doubted in fleets(2, seed):
        bounds = [bound(told(fleet, doubted, w)[0]) for w in (0.0, 0.4, 1.0)]
        assert bounds[0] <= bounds[1] + CORNERS
        assert bounds[1] <= bounds[2] + CORNERS
        moved += bounds[2] > bounds[0] + 1e-4
    assert moved


@pytest.mark.parametrize("seed", range(2))
def test_the_bound_holds_for_every_truth_within(seed: int) -> None:
    for rng, fleet, doubted in fleets(2, 51 + seed):
        spells, low, high = told(fleet, doubted, 1.0)
        quoted = bound(spells)
        for share in (np.zeros(len(fleet)), np.ones(len(fleet)), rng.random(len(fleet))):
            at = low + share * (high - low)
            truth = fleet.replace(exit_lower=at, exit_upper=at)
            assert quoted >= bound(truth) - CURVE
            # failures alone: the running engines as they are read
            only = np.where(fleet.failed, at, low)
            assert quoted >= bound(fleet.replace(exit_lower=only, exit_upper=only)) - CORNERS


def test_plans_hold_the_same_edge() -> None:
    """Asked both ways, a bound is one."""
    fleet = made_fleet(80, scale_h=1500.0, seed=4)
    spells = told(fleet, np.arange(80) % 3 == 0, 1.0)[0]
    sure = 0.5 * (1.0 + SETTINGS.study.confidence)
    low = reliability_low(spells, SETTINGS, 900.0, sure)
    ends = [reliability_low(s, SETTINGS, 900.0, sure) for s in held_at_ends(spells)]
    assert low == min(ends)
    assert low <= reliability_low(spells.replace(in_words=np.zeros(80)), SETTINGS, 900.0, sure)
    assert held_at_ends(fleet) == ()


def test_a_fleet_beside_that_tells_other_words_stands_as_it_is() -> None:
    """As where the failures told in words are cut away, or one failure alone is told so."""
    fleet = made_fleet(80, scale_h=1500.0, seed=4)
    spells = told(fleet, np.arange(80) % 3 == 0, 1.0)[0]
    (first, *_) = np.flatnonzero(spells.in_words)
    one = told(fleet, np.arange(80) == first, 1.0)[0]
    assert (len(held_at_ends(spells)), len(held_at_ends(one))) == (4, 2)
    for a, b in ((fleet, spells), (spells, fleet), (one, spells), (spells, one)):
        assert 0.0 < reliability_low(a, SETTINGS, 900.0, 0.9, recorded=b) < 1.0


@pytest.mark.parametrize(
    ("counts_as", "known_to", "more", "edges"),
    [
        ("failure", "exact", {}, (900.0, 900.0, False)),
        ("failure", "exact", {"exit_low_h": 800.0}, (800.0, 900.0, True)),
        ("failure", "exact", {"exit_low_h": 800.0, "entry_h": 850.0}, (850.0, 900.0, True)),
        ("failure", "interval", {"exit_low_h": 800.0}, (0.0, 900.0, False)),
        ("failure", "interval", {"exit_low_h": 800.0, "last_good_h": 700.0}, (700, 900, False)),
        ("censored", "exact", {"exit_low_h": 800.0}, (800.0, 800.0, False)),
        ("competing", "exact", {"exit_low_h": 800.0}, (800.0, 800.0, False)),
        ("finding", "exact", {"exit_low_h": 800.0}, (800.0, 800.0, False)),
        ("censored", "exact", {}, (900.0, 900.0, False)),
    ],
)
def test_an_end_is_between_its_edges_by_what_it_counts_as(
    counts_as: str, known_to: str, more: dict[str, float], edges: tuple[float, float, bool]
) -> None:
    row = life(exit_h=900.0, ending="failed", **more)
    assert edges_of(row, Ruling(counts_as=counts_as, reason="", known_to=known_to)) == edges
