"""Profile-likelihood limits of a power law's scale, its shape at its best for each."""

from __future__ import annotations

import math
import sys
from typing import NamedTuple

import numpy as np

from fleetstats.core.errors import NotConverged
from fleetstats.core.value import Array
from fleetstats.survival.last_steps import CLOSE, has_settled
from fleetstats.survival.parameter import profile_drop, walk_out

MOST_STEPS = 100
ROUNDING = 8.0 * sys.float_info.epsilon
"""Share of its terms by which rounding may move a sum of them: of many events the likelihood is so
large that it cannot tell gains from which `CLOSE` would still have it judge."""

FARTHEST = 200.0
"""Distance in logs past which no limit is looked for: the scale goes with a power of the hours, and
moves by many logs as the shape does by little."""


def limit_scale(
    event: Array, start: Array, end: Array, *, shape: float, lam: float, level: float
) -> tuple[float | None, float | None]:
    """Return low and high of `lam`, the events per system by 1 h; None where there is no limit.

    Parameters
    ----------
    event : (n,) float
        Hours of the events.
    start, end : (m,) float
        Hours watched.
    shape, lam : float
        The maximum.
    level : float
        Two-sided.

    Notes
    -----
    Twice the fall of ``n log(lam shape) + (shape - 1) sum log t - lam sum(end**shape -
    start**shape)``, the shape at its best, reaches the chi-square quantile of one degree of freedom
    (Lawless 2003, section 4.1, for such limits of any likelihood).
    """
    sums = _ScaleSums(event, start, end)
    best, drop = math.log(lam), profile_drop(level)
    at_top = sums.at(best, shape)
    # the events expected stay about as many where the shape gives way to the scale by this
    log_h = at_top.first / at_top.expected
    out = []
    for sign in (-1.0, 1.0):
        near = [best, shape]

        def short(x: float, near: list[float] = near) -> float:
            before, old = near
            new = old + (before - x) / log_h if log_h > 0.0 else old
            better = new > 0.0 and sums.at(x, new).value > sums.at(x, old).value
            found, value = sums.climb(x, new if better else old)
            near[:] = x, found
            return at_top.value - value - drop

        try:
            edge = walk_out(short, best, sign, step=0.25, farthest=FARTHEST, xtol=1e-10)
            out.append(None if edge is None else math.exp(edge))
        except NotConverged:
            out.append(None)
    return out[0], out[1]


class _At(NamedTuple):
    """The likelihood at a log scale and a shape.

    `value` is its logarithm less the sum of the events' logs; `expected` are the events expected,
    `first` and `second` their derivatives in the shape.
    """

    value: float
    expected: float
    first: float
    second: float


class _ScaleSums:
    """What the likelihood needs of the histories: n, the sum of logs, the ends of the stretches.

    Stretches that share an end, and such as share a start, are counted together.
    """

    def __init__(self, event: Array, start: Array, end: Array) -> None:
        self.n, self.sum_log = len(event), float(np.log(event).sum())
        ends, n_end = np.unique(end, return_counts=True)
        starts, n_start = np.unique(start[start > 0.0], return_counts=True)
        logs = np.log(np.concatenate([ends, starts]))
        many = np.concatenate([n_end, -n_start]).astype(np.float64)
        self.log_h, self.weights = logs, np.stack([many, many * logs, many * logs * logs])

    def at(self, x: float, shape: float) -> _At:
        """Return the likelihood at a log scale and shape."""
        with np.errstate(over="ignore", invalid="ignore"):
            expected, first, second = (self.weights @ np.exp(x + shape * self.log_h)).tolist()
        value = self.n * (x + math.log(shape)) + shape * self.sum_log - expected
        return _At(value, expected, first, second)

    def _size(self, x: float, shape: float) -> float:
        """Return how large the terms are that the likelihood near its best is the sum of."""
        return self.n * (1.0 + abs(x) + abs(math.log(shape))) + abs(shape * self.sum_log)

    def climb(self, x: float, shape: float) -> tuple[float, float]:
        """Return the best shape at a log scale and the log-likelihood there; in logs of shape."""
        now, before = self.at(x, shape), math.inf
        for _ in range(MOST_STEPS):
            slope = self.n + shape * (self.sum_log - now.first)
            bend = self.n + shape * shape * now.second - slope  # minus the second derivative
            if not bend > 0.0:
                bend = self.n + shape * shape * abs(now.second)
            step = slope / bend
            decrement = slope * step
            if has_settled(decrement, before):
                return shape, now.value
            before, size = decrement, min(1.0, 1.0 / abs(step))
            new = self.at(x, shape * math.exp(size * step))
            unjudged = max(CLOSE, ROUNDING * self._size(x, shape))
            while not new.value >= now.value and size > 1e-9 and not decrement < unjudged:
                size *= 0.5
                new = self.at(x, shape * math.exp(size * step))
            shape, now = shape * math.exp(size * step), new
        raise NotConverged(
            "The profile of a power law's scale stopped short.",
            "Events at one age only, or windows too short, would do that.",
        )
