"""The shapes that a bound over open shapes is sought among, log A of a fleet and how each fits.

How badly a shape fits hangs on a fleet's failures by two numbers alone: how many they are and the
sum of the logs of their ages. What both are multiplied by is worked out once for each shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fleetstats.bands.bayes.prior import WEAKENED, ShapePrior, log_prior
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

EDGE_SD = 0.35
"""Log distance past the stated range of shapes at which the penalty is that of one deviate. Each
failure adds to the square as it does in the default prior."""


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


@dataclass(frozen=True, slots=True)
class Misfit:
    """Minus twice the log-likelihood at the best rate, with a penalty: what it is made of by shape.

    Parameters
    ----------
    gain : (G,) float
        What one failure adds to the log-likelihood: log shape less log A.
    shape : (G,) float
        What the sum of log ages is multiplied by.
    penalty : (G,) float
        Before any failure weakens it.
    weakened : float
        By how much each does; 0 for a stated prior.
    """

    gain: Array
    shape: Array
    penalty: Array
    weakened: float

    @classmethod
    def of(
        cls, theta: Array, log_power: Array, shapes: tuple[float, ...], prior: ShapePrior | None
    ) -> Misfit:
        """Prepare log shapes (G,) with log A at them, under a stated range or a prior."""
        gain = theta - np.where(np.isfinite(log_power), log_power, 0.0)
        if prior is None:
            past = np.maximum(np.log(min(shapes)) - theta, 0.0) + np.maximum(
                theta - np.log(max(shapes)), 0.0
            )
            penalty = (past / EDGE_SD) ** 2
        else:
            penalty = -2.0 * log_prior(prior, theta, np.zeros(1))
        weakened = WEAKENED if prior is None or not prior.stated else 0.0
        return cls(gain, np.exp(theta), penalty, weakened)

    def take(self, which: Array | slice) -> Misfit:
        """Return what belongs to some of the shapes."""
        return Misfit(self.gain[which], self.shape[which], self.penalty[which], self.weakened)

    def at(self, r: Array, sums: Array) -> Array:
        """Return the misfit after `r` failures with a sum of log ages; broadcast."""
        like = r * self.gain + sums * self.shape
        return np.asarray(self.penalty / (1.0 + self.weakened * r) - 2.0 * like)

    def roughly(self, r: Array, sums: Array) -> Array:
        """Return (R, G) what `at` does for (R,) fleets, but for its last digits: one product."""
        factors = np.stack([-2.0 * r, -2.0 * sums, 1.0 / (1.0 + self.weakened * r)], axis=1)
        return np.asarray(factors @ np.stack([self.gain, self.shape, self.penalty]))
