"""Do bounds hold where the clocks are wrong as stated, and how often is a claim wrongly supported?

Fleets of 120 engines with Weibull lives (shape 3), read on wrong clocks; the chance accepted by the
claimed hours is the true one, so that each "supported" is wrong. One-sided 95 %. The bound with
clocks right is that of a known shape (failures a Poisson count; Nelson 1985, J. Qual. Technol. 17,
140-146, from memory), quick enough for hundreds of fleets; the mixing over clocks is the product's.
"""

import math

import numpy as np
import pytest
from scipy.special import chdtri, ndtri

from fleetstats.advice.clock_doubt.draws import draw_clocks
from fleetstats.advice.clock_doubt.widen import BoundTable
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.study.clock_settings import ClockKeys

SHAPE, SCALE_H, CLAIM_H, N = 3.0, 2200.0, 1000.0, 120
TRUE = SHAPE * math.log(CLAIM_H / SCALE_H)
"""True log cumulative hazard at the claimed hours."""
SCORE = float(ndtri(0.95))


def read_high(rng, n):
    """Every second clock reads 15 % high."""
    return np.where(np.arange(n) % 2 == 0, 1.15, 1.0)


def each_apart(rng, n):
    return np.exp(0.1 * rng.standard_normal(n))


def all_alike(rng, n):
    return np.full(n, math.exp(0.1 * rng.standard_normal()))


def fleet(index, clocks):
    rng = stream(91, "clock fleets", index)
    life, seen = SCALE_H * rng.weibull(SHAPE, N), rng.uniform(300.0, 2200.0, N)
    read = np.minimum(life, seen) * clocks(rng, N)
    return Spells.of(np.zeros(N), read, life < seen)


def edge(spells, confidence, hours):
    """Upper edge of the log cumulative hazard, shape known."""
    allowed = 0.5 * float(chdtri(2.0 * spells.n_failed + 2.0, 1.0 - confidence))
    return math.log(allowed / float(((spells.exit_upper / hours) ** SHAPE).sum()))


def wrong(clocks, keys, n_fleets=400):
    """Share of fleets whose edge with the clocks mixed in, and without, lies below the truth."""
    below = np.zeros(2)
    for i in range(n_fleets):
        spells = fleet(i, clocks)
        x = math.log(CLAIM_H)
        table = BoundTable.of(
            lambda c, h, s=spells: edge(s, c, h), 0.95, x + np.linspace(-0.5, 0.5, 5), upper=True
        )
        own = edge(spells, 0.95, CLAIM_H)
        held = max(own, table.mixed(draw_clocks(spells, keys, 1), SCORE, x))
        below += [held < TRUE, own < TRUE]
    return below / n_fleets


@pytest.mark.parametrize(
    ("clocks", "without", "at_most"),
    [(read_high, 0.12, 0.07), (each_apart, 0.03, 0.05), (all_alike, 0.10, 0.05)],
)
def test_bounds_hold_with_the_clocks_in_doubt_as_stated(clocks, without, at_most):
    """Log sd 0.1, common to all: 5 % wrong over clocks so drawn, at most 7 % with half high."""
    held, plain = wrong(clocks, ClockKeys(doubt=0.1))
    print(f"{clocks.__name__}: wrong {held:.3f} with the doubt, {plain:.3f} without")
    assert held <= at_most + 3 * math.sqrt(0.05 * 0.95 / 400)
    assert plain >= without


def test_errors_apart_do_not_cover_a_common_one():
    """Each for itself is a strong statement: a common error of half the clocks breaks it."""
    spells = fleet(0, each_apart)
    apart = draw_clocks(spells, ClockKeys(doubt=0.1, together=0.0), 1)
    assert np.all(apart.common == 0.0)
    common = draw_clocks(spells, ClockKeys(doubt=0.1), 1).common
    assert float(np.std(common)) == pytest.approx(0.1, rel=0.01)


def test_bounds_hold_where_one_kind_of_clock_is_in_doubt_and_the_other_is_not():
    """Half of the clocks err together by log sd 0.15; one doubt of all would be 0.15, or none."""
    half = np.arange(N) % 2 == 0
    below = np.zeros(2)
    for i in range(400):
        spells = fleet(i, lambda rng, n: np.where(half, math.exp(0.15 * rng.standard_normal()), 1))
        spells = spells.replace(clock_sd=np.where(half, 0.15, 0.0))
        x = math.log(CLAIM_H)
        table = BoundTable.of(
            lambda c, h, s=spells: edge(s, c, h), 0.95, x + np.linspace(-0.5, 0.5, 5), upper=True
        )
        own = edge(spells, 0.95, CLAIM_H)
        held = max(own, table.mixed(draw_clocks(spells, ClockKeys(), 1), SCORE, x))
        below += [held < TRUE, own < TRUE]
    held, plain = below / 400
    print(f"wrong {held:.3f} with the doubt of half, {plain:.3f} without")
    assert held <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 400)
    assert plain > held
