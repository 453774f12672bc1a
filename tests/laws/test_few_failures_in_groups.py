"""With few failures in a group, what is said of it holds at the least favourable shape.

A shape that the many failures of one group fit is no evidence of the shape of another. A known
case: one failure in 1,801 h, beside a fleet whose failures come late. At the fleet's own shape the
group's rate reads some thirty times the fleet's; at shape 1 the exact limits hold 1 (Przyborowski
and Wilenski 1940, Clopper and Pearson 1934).
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.spells import Spells
from fleetstats.survival.groups.growth import estimate_growth
from fleetstats.survival.groups.pooling import compare_scales
from fleetstats.survival.groups.rate_ratio import compare_rates

SHAPES = (1.0, 2.0, 3.0, 4.0)


def late_failing() -> Spells:
    """Return 60 lives of build A, of which 12 failed between 1,300 and 1,740 h."""
    exits = np.concatenate([np.linspace(1300.0, 1740.0, 12), np.linspace(600.0, 1700.0, 48)])
    failed = np.arange(60) < 12
    return Spells.of(0.0, exits, failed, build=np.full(60, "A"))


def one_early() -> Spells:
    """Return six lives of build B over 1,801 h in all, one of which failed at 301 h."""
    exits = np.array([301.0, 300.0, 300.0, 300.0, 300.0, 300.0])
    return Spells.of(0.0, exits, np.arange(6) == 0, build=np.full(6, "B"))


def test_one_failure_is_not_called_different_at_the_shape_of_the_others() -> None:
    few, many = one_early(), late_failing()
    got = compare_scales(few, many, names=("B", "A"), shapes=SHAPES)
    assert got.method == "profile-and-shapes"
    assert got.verdict == "cannot-tell"
    flat = compare_rates(1, few.exposure_h, 12, many.exposure_h)  # shape 1: a rate by the hour
    assert flat.low is not None
    assert flat.high is not None
    assert got.low is not None
    assert got.high is not None
    assert got.low <= 1 / flat.high * (1 + 1e-9)
    assert got.high >= 1 / flat.low * (1 - 1e-9)


def test_growth_over_such_builds_spans_the_shapes() -> None:
    got = estimate_growth(late_failing().join(one_early()), ("A", "B"), shapes=SHAPES)
    assert got.direction == "not-shown"
    assert got.factor_over_shapes is not None
    least, most = got.factor_over_shapes
    by_hour = (1 / one_early().exposure_h) / (12 / late_failing().exposure_h)
    assert least == pytest.approx(by_hour, rel=1e-6)
    assert most > 5 * least
    assert got.low is not None
    assert got.low < 1.0 < most
    assert "by the shape that is assumed" in got.sentence
    line = got.lines[1]
    assert line.low < 1.0


def test_many_failures_on_both_sides_keep_their_own_shape() -> None:
    rng = np.random.default_rng(3)
    life = 1500.0 * rng.weibull(3.0, 200)
    end = np.minimum(life, 1600.0)
    build = np.where(np.arange(200) < 100, "A", "B")
    lives = Spells.of(0.0, end, life <= 1600.0, build=build)
    two = [lives.select(build == b) for b in "AB"]
    assert compare_scales(two[0], two[1], names=("A", "B"), shapes=SHAPES).method == "profile"
    got = estimate_growth(lives, ("A", "B"), shapes=SHAPES)
    assert got.factor_over_shapes is None
    assert got.sentence == estimate_growth(lives, ("A", "B"), shapes=(1.0,)).sentence
