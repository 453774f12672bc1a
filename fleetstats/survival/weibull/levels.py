"""The best level of the Weibull likelihood at each of many shapes, all sought at once.

Given a shape b the log likelihood is concave in the level (Burridge 1981), with

    slope = r - M + sum w g(v),    M = e^level sum w (t^b - e^b),  v = e^level (z^b - a^b),

r the failures at known ages, the second sum over those between two checks, and
g(v) = v / (e^v - 1) between 0 and 1. So the level at which all failures would balance M is too
high, and one at which no v is above 1 and M below `AT_ONE` of all failures is too low: between
the two Newton's steps are kept. All sums are formed as logs, so that no shape is out of range.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.weibull.weibull_general import Lives, log_failed

AT_ONE = 0.58
"""A little below g(1), 1 / (e - 1)."""

POWERS = 1_000_000
"""Powers formed at a time, to bound memory at 8 MB a term."""

MOST_STEPS = 300

NEAR = 1e-10
"""Step, of the level or of 1, after which the level has settled."""


def best_levels(lives: Lives, shape: Array) -> tuple[Array, Array]:
    """Return the best levels at shapes (k,), and the log likelihood there.

    Parameters
    ----------
    lives : Lives
        With a failure, and a life that survived something.
    shape : (k,) float
        Positive.
    """
    log_power = _log_power(lives, shape)
    log_gap = shape[:, None] * lives.found[None, :] + log_grown(shape, lives.gap)
    n, r, weight = lives.n_failed, lives.exact_weight, lives.found_weight

    def slopes(level: Array) -> tuple[Array, Array]:
        power = np.exp(level + log_power)
        g, bend = between_slopes(np.exp(np.minimum(level[:, None] + log_gap, 700.0)))
        return r - power + g @ weight, bend @ weight - power

    high = math.log(n) - log_power
    low = high + math.log(AT_ONE)
    if len(weight):
        low = np.minimum(low, -log_gap.max(axis=1))
    level = _root(slopes, low, high)
    value = r * (np.log(shape) + level) + shape * lives.exact_sum - lives.exact_log_hours
    value = value - np.exp(level + log_power)
    if len(weight):
        value = value + log_failed(np.exp(np.minimum(level[:, None] + log_gap, 700.0))) @ weight
    return level, np.asarray(value)


def _root(slopes: Callable[[Array], tuple[Array, Array]], low: Array, high: Array) -> Array:
    """Return the levels (k,) at which falling slopes vanish, each between `low` and `high`."""
    level, last = high.copy(), high - low
    for _ in range(MOST_STEPS):
        slope, bend = slopes(level)
        low, high = np.where(slope >= 0.0, level, low), np.where(slope <= 0.0, level, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = -slope / bend
        ahead = level + step
        # Newton's step where it stays between and shrinks; else the middle
        good = (ahead >= low) & (ahead <= high) & (np.abs(step) <= 0.5 * last)
        ahead = np.where(good, ahead, 0.5 * (low + high))
        last = np.abs(ahead - level)
        level = ahead
        if (last <= NEAR * (1.0 + 1e-4 * np.abs(level))).all():
            break
    return level


def _log_power(lives: Lives, shape: Array) -> Array:
    """Return (k,) logs of the weighted sum of t^b - e^b, ages over the reference."""
    out = np.empty(len(shape))
    log_weight = np.log(lives.weight)
    step = max(1, POWERS // len(log_weight))
    for i in range(0, len(shape), step):
        b = shape[i : i + step]
        terms = b[:, None] * lives.stop + log_grown(b, lives.span) + log_weight
        most = terms.max(axis=1)
        with np.errstate(under="ignore"):
            out[i : i + step] = most + np.log(np.exp(terms - most[:, None]).sum(axis=1))
    return out


def log_grown(shape: Array, span: Array) -> Array:
    """Return (k, n) logs of 1 - (bottom / top)^b from log ratios of top to bottom."""
    with np.errstate(under="ignore"):
        return np.asarray(np.log(-np.expm1(-shape[:, None] * span[None, :])))


def between_slopes(v: Array) -> tuple[Array, Array]:
    """Return g(v) = v / (e^v - 1) and its slope in log v, without loss at either end."""
    # beyond these g is 1 and 0 to the last digit, and a quotient of numbers still
    safe = np.minimum(np.maximum(v, 1e-300), 500.0)
    g = safe / np.expm1(safe)
    # g is never below 1 - v / 2; rounding must not say so
    return g, g * np.minimum(1.0 - safe - g, -0.5 * safe)
