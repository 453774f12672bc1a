"""The shapes that a bound over open shapes is sought among, and log A of a fleet at them."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Own, frozen_array
from fleetstats.spells.spells import Spells

STEP, FINER_PAST = 0.0025, 2500.0
"""Log distance of the shapes tried, and the engines past which it is halved for each fourfold."""

MOST_LIVES = 10_000_000
"""Lives past which failures of unknown age are bounded among no more shapes: their rows are many.
Of a hundred million lives a tenth of which failed it moves a bound by up to 0.3 % of itself."""

FEW_SHAPES, PIECE = 4096, 4096
"""Shapes up to which log A is worked out at all of them, by one product with a table that is kept;
of more, so many at a time are, where they are asked for: a table would be many times the fleet."""


def shapes_tried(surface: Surface, lives: float) -> tuple[float, float, int]:
    """Return least and greatest log shape that are tried for so many lives, and how many evenly."""
    halvings = max(math.ceil(0.5 * math.log2(max(lives, 1.0) / FINER_PAST)), 0)
    low, high = surface.sums.low, surface.sums.high
    return low, high, math.ceil((high - low) / STEP * 2.0**halvings)


@lru_cache(maxsize=16)
def lattice(low: float, high: float, count: int, known: tuple[float, ...]) -> Array:
    """Return log shapes over all that can be, and the `known` shapes, rising."""
    even = np.linspace(low, high, count)
    return frozen_array(Own(np.union1d(even, np.clip(np.log(known), low, high))))


class LatticePower:
    """Log A of a fleet at log shapes `theta` (G,), worked out where it is asked for.

    The hours alone say it: many fleets are asked that differ in failures made up besides. What is
    worked out stays with `lives` under `key`, which tells the shapes apart.
    """

    def __init__(
        self, lives: Spells, surface: Surface, theta: Array, key: tuple[object, ...]
    ) -> None:
        self.lives, self.surface, self.theta, self.key = lives, surface, theta, key

    def every(self, step: int = 1) -> Array:
        """Return log A of every so manieth shape; of all, or of these."""
        return self._kept(slice(0, None, step))

    def within(self, start: int, stop: int) -> Array:
        """Return (G,) log A, at least from shape `start` to before `stop`; NaN where not asked."""
        if len(self.theta) <= FEW_SHAPES:
            return self.every()
        out = np.full(len(self.theta), np.nan)
        for i in range(start // PIECE * PIECE, stop, PIECE):
            out[i : i + PIECE] = self._kept(slice(i, i + PIECE, 1))
        return out

    def _kept(self, which: slice) -> Array:
        key = ("log power of shapes", self.key, which.start, which.stop, which.step)
        return kept(self.lives, key, lambda: frozen_array(Own(self._at(self.theta[which]))))

    def _at(self, theta: Array) -> Array:
        if len(self.theta) <= FEW_SHAPES:
            return self.surface.log_power(theta)
        return self.surface.sums.log_power_among(theta)
