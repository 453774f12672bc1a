"""Failures that no life counts: no answer is better for one more, or than its worst placing.

Made fleets; the ages that each failure can have are drawn, and whether its engine is named. The
grid of placings is our own brute force: each failure at each of its ages, as an engine that ran to
that age. No outside source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings

from fleetstats.advice import left_out as rules
from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.advice.left_out import held_to_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.spells import Spells
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import EARLIEST_SHARE
from fleetstats.survival.weibull.fit_weibull import try_fit

SETTINGS = made_settings(claim=None)
CLAIMING = made_settings(
    claim=900.0,
    targets={"risk_per_check": 0.01, "accepted_failure_at_claim": 0.1},
    cost={"ratio": 5.0},
    evidence={"resamples": 60},
)
BETTER = {"contradicted": 0, "hours-do-not-tell": 1, "not-yet-shown": 1, "supported": 2}
ROUNDING = 1e-9
"""Relative; bounds are solved to about 1e-10."""

APART = 1e-6
"""Relative; the brute force sets equal ages 1e-8 of them apart, since no fit has a maximum at equal
ones, so that some lie below the least age that they can have; a life answers 20 times as much."""

OTHER_AGES = 0.01
"""Of -log reliability, or of hours below which it is small: failures of four or more ranges of ages
are not placed in all their subsets, and a late one may speak for a steeper curve. The worst of
2,093 cells was 0.0026 when this was written; most broke before subsets were tried at all."""


def drawn(rng: np.random.Generator, fleet: Spells, row: int, *, same: bool = False) -> LeftOut:
    """Return a failure without hours: of any age, of one age, or between two."""
    low, high = np.sort(rng.uniform(0.0, fleet.oldest_h, 2))
    kind = 0 if same else int(rng.integers(4))
    low, high = [(0.0, fleet.oldest_h), (low, low), (low, fleet.oldest_h), (low, high)][kind]
    named = not same and rng.random() < 0.4
    return LeftOut(
        file="returns.csv",
        row=row,
        low_h=float(low),
        high_h=float(high),
        reason="has no hours",
        engine=str(fleet.unit[rng.integers(len(fleet))]) if named else "",
        count=1 if same else int(rng.choice([1, 1, 2, 5])),
    )


def fleets(n: int, seed: int) -> Iterator[tuple[np.random.Generator, Spells]]:
    rng = np.random.default_rng(seed)
    for _ in range(n):
        yield (
            rng,
            made_fleet(
                int(rng.integers(20, 200)),
                shape=float(rng.choice([1.0, 2.5, 4.0])),
                scale_h=float(rng.choice([1500.0, 3000.0, 8000.0, 30000.0])),
                seed=int(rng.integers(1_000_000)),
            ),
        )


def asked(fleet: Spells) -> list[Quantity]:
    end = fleet.horizon_h(least=10) or 300.0
    return [
        *(Quantity.reliability(h) for h in (200.0, 600.0, 1000.0, 0.9 * end)),
        Quantity.life(0.1),
        Quantity.life(0.02),
    ]


def lows(fleet: Spells, what: list[Quantity]) -> list[float]:
    lives = Quoter.of(fleet, try_fit(fleet), SETTINGS)
    return [held_to_left_out(lives, w).low or 0.0 for w in what]


@pytest.mark.parametrize("seed", range(4))
def test_no_bound_is_better_than_the_worst_of_a_grid_of_placings(seed: int) -> None:
    held = 0
    for rng, fleet in fleets(3, seed):
        own = Quoter.of(fleet, try_fit(fleet), SETTINGS)
        k = int(rng.integers(1, 4))
        ends = [np.sort(rng.uniform(0.0, fleet.oldest_h, 2)) for _ in range(k)]
        ends = [e if rng.random() < 0.7 else np.array([0.0, fleet.oldest_h]) for e in ends]
        told = [
            LeftOut(file="a.csv", row=i, low_h=float(a), high_h=float(b), reason="has no hours")
            for i, (a, b) in enumerate(ends)
        ]
        what = asked(fleet)
        quoted = lows(fleet.with_left_out(told), what)
        before = [own.interval(w).low or 0.0 for w in what]
        steps = {1: 21, 2: 8, 3: 5}[k]
        grid = [np.linspace(max(a, EARLIEST_SHARE * b), b, steps) for a, b in ends]
        for ages in itertools.product(*grid):
            apart = np.array(ages) * (1.0 - 1e-8 * np.arange(k))  # equal ages leave no maximum
            more = fleet.join(Spells.of(0.0, apart, np.ones(k), unit=[f"h{i}" for i in range(k)]))
            placed = Quoter.of(more, try_fit(more), SETTINGS, recorded=own)
            for w, low in zip(what, quoted, strict=True):
                assert low <= (placed.interval(w).low or 0.0) * (1.0 + APART), (w, ages)
        held += sum(a < b for a, b in zip(quoted, before, strict=True))
    assert held > 9  # of 18: the failures do move the bounds


@pytest.mark.parametrize("seed", range(10, 14))
def test_one_more_failure_left_out_never_betters_a_bound(seed: int) -> None:
    for rng, fleet in fleets(4, seed):
        what = asked(fleet)
        told = [drawn(rng, fleet, i) for i in range(int(rng.integers(1, 5)))]
        before = lows(fleet, what)
        for k in range(1, len(told) + 1):
            after = lows(fleet.with_left_out(told[:k]), what)
            slack = ROUNDING if len({(x.low_h, x.high_h) for x in told[:k]}) < 3 else OTHER_AGES
            for w, a, b in zip(what, before, after, strict=True):
                if w.kind == "reliability":
                    assert np.log(max(b, 1e-300)) <= np.log(max(a, 1e-300)) * (1.0 - slack), (w, k)
                else:
                    assert b <= a * (1.0 + slack), (w, k)
            before = after


def test_one_more_of_unknown_age_never_betters_a_bound() -> None:
    for rng, fleet in fleets(10, 99):
        what = asked(fleet)
        told = [drawn(rng, fleet, i, same=True) for i in range(6)]
        before = lows(fleet, what)
        for k in (1, 2, 3, 6):
            after = lows(fleet.with_left_out(told[:k]), what)
            assert all(b <= a * (1.0 + ROUNDING) for a, b in zip(before, after, strict=True))
            before = after


def advised(fleet: Spells) -> Advice:
    return advise_hours(fleet, try_fit(fleet), CLAIMING, curves=False)


@pytest.mark.parametrize("seed", range(20, 26))
def test_verdict_shown_to_and_plan_from_are_never_better(seed: int) -> None:
    for rng, fleet in fleets(2, seed):
        told = [drawn(rng, fleet, i) for i in range(2)]
        a = advised(fleet)
        shown = advise_claim(fleet, CLAIMING, by=()).shown_to_h
        for k in (1, 2):
            more = fleet.with_left_out(told[:k])
            b = advised(more)
            claim = advise_claim(more, CLAIMING, by=())
            assert a.verdict is not None
            assert b.verdict is not None
            assert BETTER[b.verdict.word] <= BETTER[a.verdict.word]
            assert claim.state == b.verdict.word
            assert claim.shown_to_h <= shown * (1.0 + ROUNDING)
            assert (b.overhaul_band.plan_from.hours or 0.0) <= (
                a.overhaul_band.plan_from.hours or 0.0
            )
            assert b.verdict.reliability == a.verdict.reliability
            assert b.verdict.with_left_out is not None
            assert (b.verdict.with_left_out.low or 0.0) <= (b.verdict.reliability.low or 0.0)
            a, shown = b, claim.shown_to_h


def test_without_failures_left_out_nothing_is_placed(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("no failure is left out")

    monkeypatch.setattr(rules, "every_placing", never)
    monkeypatch.setattr(rules, "as_seen", never)
    _, fleet = next(fleets(1, 5))
    got = advised(fleet)
    assert got.verdict is not None
    assert got.verdict.with_left_out is None
    assert got == advised(fleet.with_left_out(()))
    with pytest.raises(AssertionError, match="no failure is left out"):
        advised(fleet.with_left_out([LeftOut(file="a", row=1, low_h=0.0, high_h=9.0, reason="")]))
