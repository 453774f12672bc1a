"""Profile-likelihood limits of a power law's scale, its shape at its best for each."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.errors import NotConverged
from fleetstats.core.value import Array
from fleetstats.survival.last_steps import CLOSE, has_settled
from fleetstats.survival.parameter import profile_drop, walk_out

MOST_STEPS = 100
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
    sums = _ScaleSums.of(event, start, end)
    best, drop = math.log(lam), profile_drop(level)
    top = sums.value(best, shape)
    out = []
    for sign in (-1.0, 1.0):
        near = [shape]

        def short(x: float, near: list[float] = near) -> float:
            near[0], value = sums.climb(x, near[0])
            return top - value - drop

        try:
            edge = walk_out(short, best, sign, step=0.25, farthest=FARTHEST, xtol=1e-10)
            out.append(None if edge is None else math.exp(edge))
        except NotConverged:
            out.append(None)
    return out[0], out[1]


class _ScaleSums:
    """What the likelihood needs of the histories: n, the sum of logs, the ends of the stretches."""

    def __init__(self, n: int, sum_log: float, log_end: Array, log_start: Array) -> None:
        self.n, self.sum_log, self.log_end, self.log_start = n, sum_log, log_end, log_start

    @classmethod
    def of(cls, event: Array, start: Array, end: Array) -> _ScaleSums:
        late = start[start > 0.0]
        return cls(len(event), float(np.log(event).sum()), np.log(end), np.log(late))

    def moments(self, x: float, shape: float) -> tuple[float, float, float]:
        """Return the events expected, and their first and second derivative in the shape."""
        with np.errstate(over="ignore"):
            up = np.exp(x + shape * self.log_end)
            down = np.exp(x + shape * self.log_start)
        a, b = self.log_end, self.log_start
        return (
            float(up.sum() - down.sum()),
            float(up @ a - down @ b),
            float(up @ (a * a) - down @ (b * b)),
        )

    def value(self, x: float, shape: float) -> float:
        """Return the log-likelihood at log scale and shape, less the sum of the events' logs."""
        return self.n * (x + math.log(shape)) + shape * self.sum_log - self.moments(x, shape)[0]

    def climb(self, x: float, shape: float) -> tuple[float, float]:
        """Return the best shape at a log scale and the log-likelihood there; in logs of shape."""
        now, before = self.value(x, shape), math.inf
        for _ in range(MOST_STEPS):
            _, first, second = self.moments(x, shape)
            slope = self.n + shape * (self.sum_log - first)
            bend = self.n + shape * shape * second - slope  # minus the second derivative
            if not bend > 0.0:
                bend = self.n + shape * shape * abs(second)
            step = slope / bend
            decrement = slope * step
            if has_settled(decrement, before):
                return shape, now
            before, size = decrement, min(1.0, 1.0 / abs(step))
            new = self.value(x, shape * math.exp(size * step))
            while not new >= now and size > 1e-9 and not decrement < CLOSE:
                size *= 0.5
                new = self.value(x, shape * math.exp(size * step))
            shape, now = shape * math.exp(size * step), new
        raise NotConverged(
            "The profile of a power law's scale stopped short.",
            "Events at one age only, or windows too short, would do that.",
        )
