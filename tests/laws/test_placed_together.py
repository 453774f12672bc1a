"""Failures left out, their placings asked together: the edges are those of each asked by itself.

Made fleets, with failures at known ages and between checks, delayed entries, few failures and many,
and curves that are wrong, where an estimate lies below the edge. No outside source: each placing
asked for its whole interval, and the mixture of each by itself, are the check.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice import left_out as rules
from fleetstats.advice.left_out import placed_fleets, reaches_with_left_out, with_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.bayes.beside import OF_ONE_GRID, may_differ, mix_beside
from fleetstats.bands.bayes.mixture import MIDDLE, OPTIMISTIC, ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.quantity import Quantity
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import every_placing
from fleetstats.survival.weibull.fit_weibull import try_fit

SETTINGS = made_settings(claim=None)
ROUNDING = 1e-9
ASKED = (*(Quantity.reliability(h) for h in (60.0, 400.0, 1100.0)), Quantity.life(0.1))


def messy_fleet(seed: int) -> Spells:
    """Return a fleet with failures of all kinds, and some left out of named engines and of none."""
    rng = stream(seed, "placed together")
    n = int(rng.choice([12, 60, 200]))
    life = 1400.0 * rng.weibull(rng.choice([0.6, 1.5, 4.0]), n) + rng.choice([0.0, 300.0])
    stop = rng.uniform(100.0, rng.choice([500.0, 1700.0]), n)
    end, failed = np.minimum(life, stop), life < stop
    entry = np.where(rng.random(n) < 0.3, 0.5 * end, 0.0)
    between = failed & (rng.random(n) < rng.choice([0.0, 0.5]))
    lower = np.where(between, np.maximum(end - 50.0, entry), end)
    lives = Spells.of(
        entry, end, failed, exit_lower=lower, unit=np.array([f"E{i}" for i in range(n)])
    )
    told = []
    for row in range(int(rng.integers(1, 7))):
        high = float(rng.uniform(200.0, 1500.0))
        low = float(rng.choice([0.0, 0.5])) * high
        name = f"E{rng.integers(n)}" if rng.random() < 0.5 else ""
        told.append(LeftOut(file="a.csv", row=row + 2, low_h=low, high_h=high, engine=name,
                            count=1 if name else int(rng.choice([1, 3])),
                            reason="has no hours"))  # fmt: skip
    return lives.with_left_out(told)


@pytest.mark.parametrize("seed", range(24))
def test_a_lower_edge_is_the_worst_of_every_placing(seed: int) -> None:
    lives = messy_fleet(seed)
    q = Quoter.of(lives, try_fit(lives), SETTINGS)
    for what in ASKED:
        own = q.interval(what)
        each = [x.interval(what).low or 0.0 for x in placed_fleets(q)]
        want = min(own.low or 0.0, *each)
        got = with_left_out(q, what)
        assert got is not None
        assert (got.low or 0.0) == pytest.approx(want, rel=ROUNDING, abs=1e-12), what
        near = want * (1.0 + 1e-6)
        assert not reaches_with_left_out(q, what, near + 1e-9) or want < min(each)


def test_where_an_estimate_lies_below_the_edge_it_is_found() -> None:
    """Lives that die late in a curve that falls early: many sound engines at a young age."""
    held = 0
    for seed in range(6):
        rng = stream(seed, "late deaths")
        n = 400
        life = np.where(rng.random(n) < 0.5, 900.0 + 30.0 * rng.random(n), 5000.0)
        stop = rng.uniform(850.0, 1500.0, n)
        lives = Spells.of(0.0, np.minimum(life, stop), life < stop).with_left_out(
            [LeftOut(file="a.csv", row=2, low_h=0.0, high_h=900.0, reason="has no hours")]
        )
        q = Quoter.of(lives, try_fit(lives), SETTINGS)
        what = Quantity.reliability(700.0)
        low, _ = next(placed_fleets(q)).uncapped(what)
        held += not all(rules._allow(q, what, low))
        each = [x.interval(what).low or 0.0 for x in placed_fleets(q)]
        got = with_left_out(q, what)
        assert got is not None
        assert got.low == pytest.approx(min(q.interval(what).low or 0.0, *each), rel=ROUNDING)
    assert held > 0


@pytest.mark.parametrize("stated", [False, True])
@pytest.mark.parametrize("seed", [0, 3, 5, 8, 13])
def test_mixtures_made_together_are_those_made_one_by_one(seed: int, stated: bool) -> None:
    fleets = tuple(every_placing(messy_fleet(seed)))
    prior = ShapePrior(median=2.0, log_sd=0.5, stated=stated)
    mixed = mix_beside(fleets, prior)
    assert mixed is not None
    hours = Quantity.reliability(500.0)
    assert np.median(may_differ(mixed)) < 2.0 * OF_ONE_GRID
    for added in (MIDDLE, OPTIMISTIC):
        for low in (0.5, 0.9, 0.97):
            got = mixed.below(hours, np.full(len(fleets), low), added=added)
            want = [
                ShapeMixture.of_spells(s, prior).below(hours, np.array([low]), added=added)[0]
                for s in fleets
            ]
            assert (np.abs(got - want) <= may_differ(mixed)).all()


def test_fleets_that_differ_between_checks_are_not_mixed_together() -> None:
    one = Spells.of(0.0, [300.0, 500.0], [1, 0], exit_lower=[250.0, 500.0])
    other = one.replace(exit_lower=np.array([200.0, 500.0]))
    assert mix_beside((one, one), ShapePrior()) is not None
    assert mix_beside((one, other), ShapePrior()) is None
