"""Climbing a log likelihood of two parameters: a shape above 0 and a level on the whole line.

A damped Newton step in (log shape, level) with a line search; where that stalls, or ends where no
maximum can be, the level is profiled out over a grid of shapes, which either finds the peak or
shows that there is none.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array

MAX_STEPS = 200
LOG_SHAPE_RANGE = (math.log(1e-4), math.log(1e5))
"""A likelihood that still rises at these shapes counts as having no maximum."""

GRID_STEP = 0.5
PLATEAU = 4
"""Grid points in a row, level with the best, that show a plateau and not a peak."""

LEAST_INFORMATION = 1e-8
"""Information per failure below which the likelihood is flat in a parameter, not peaked."""

NOISE = 1e-12
"""Relative rise of the likelihood below which rounding hides it and a Newton step is trusted."""

FLAT_SLOPE = 1e-14
"""Slope in level, per life, that rounding makes of none at all."""

Likelihood = Callable[[float, float], tuple[float, Array, Array]]
"""(shape, level) to log likelihood, gradient (2,) and Hessian (2, 2) in (shape, level)."""

Levels = Callable[[Array], tuple[Array, Array]]
"""Shapes (k,) to the best level at each, and the log likelihood there."""


@dataclass(frozen=True, slots=True)
class Peak:
    """Where a climb ended: log shape, level, log likelihood, steps, and whether it settled."""

    theta: float
    level: float
    value: float
    steps: int
    settled: bool

    @property
    def within(self) -> bool:
        """Return whether the shape is one at which a maximum counts."""
        return LOG_SHAPE_RANGE[0] < self.theta < LOG_SHAPE_RANGE[1]


def best_level(likelihood: Likelihood, shape: float, level: float) -> tuple[float, float]:
    """Return the level that is best at one shape, and the log likelihood there."""
    low, high = -math.inf, math.inf
    limit = 1e4 * (1.0 + shape)
    value = -math.inf
    lost = 0
    for _ in range(100):
        value, grad, hess = likelihood(shape, level)
        slope, curve = float(grad[1]), float(hess[1, 1])
        if not (math.isfinite(slope) and math.isfinite(curve)):
            # So far up that nothing survives, or so far down that nothing fails: step back.
            level *= 0.5
            lost += 1
            if lost > 12:
                return level, -math.inf
            continue
        if abs(slope) < FLAT_SLOPE:
            break
        if slope > 0.0:
            low = level
        else:
            high = level
        cap = max(4.0, 0.5 * abs(level))
        # A curve of next to nothing gives no step of its own, only a direction.
        move = -slope / curve if curve < -1e-300 else math.copysign(cap, slope)
        ahead = level + min(max(move, -cap), cap)
        if not low < ahead < high:
            ahead = 0.5 * (low + high) if math.isfinite(low + high) else ahead
        small = abs(ahead - level) < max(1e-7, 1e-14 * abs(level))
        level = ahead
        if small or abs(level) > limit:
            break
    return level, value


def _in_log_shape(shape: float, grad: Array, hess: Array) -> tuple[Array, Array]:
    """Return gradient and Hessian in (log shape, level)."""
    cross = shape * hess[0, 1]
    return (
        np.array([shape * grad[0], grad[1]]),
        np.array([[shape**2 * hess[0, 0] + shape * grad[0], cross], [cross, hess[1, 1]]]),
    )


def _climb(likelihood: Likelihood, theta: float, level: float, n_failed: float) -> Peak:
    """Newton's method in (log shape, level) with a line search."""
    value, grad, hess = likelihood(math.exp(theta), level)
    quiet = 0
    for step in range(1, MAX_STEPS + 1):
        g, h = _in_log_shape(math.exp(theta), grad, hess)
        if not (np.isfinite(h).all() and np.isfinite(g).all()):
            return Peak(theta, level, value, step, False)
        roots, axes = np.linalg.eigh(-h)
        roots = np.maximum(np.abs(roots), 1e-12 * max(1e-300, float(np.abs(roots).max())))
        move = axes @ ((axes.T @ g) / roots)
        gain = float(g @ move)
        move *= min(
            1.0,
            2.0 / max(abs(move[0]), 1e-300),
            max(6.0, 0.5 * abs(level)) / max(abs(move[1]), 1e-300),
        )
        size = max(abs(value), n_failed)
        hidden = gain < NOISE * size
        part = 1.0
        for _ in range(60):
            t, v = theta + part * float(move[0]), level + part * float(move[1])
            if not LOG_SHAPE_RANGE[0] - 3.0 < t < LOG_SHAPE_RANGE[1] + 3.0:
                return Peak(t, v, value, step, False)
            new, grad_new, hess_new = likelihood(math.exp(t), v)
            if new > value or (hidden and new >= value - 100.0 * NOISE * size):
                break
            part *= 0.5
        else:
            return Peak(theta, level, value, step, hidden)
        theta, level, value, grad, hess = t, v, new, grad_new, hess_new
        quiet = quiet + 1 if hidden else 0
        if quiet == 3 or (hidden and gain < 1e-6 * NOISE * size):
            return Peak(theta, level, value, step, True)
    return Peak(theta, level, value, MAX_STEPS, False)


def _no_maximum(reason: str) -> NoMaximum:
    text = {
        "shape-not-identified": "The likelihood is flat: many shapes fit these lives equally well.",
        "shape-grows-without-limit": "The likelihood keeps rising with shape: every failure could "
        "lie at one age.",
        "shape-falls-to-zero": "The likelihood keeps rising as shape falls to 0.",
        "scale-not-identified": "The likelihood keeps rising, or stays flat, as the scale runs "
        "out of range.",
    }[reason]
    return NoMaximum(
        text,
        "Bounds for assumed shapes can still be given; lives followed from new, or failures at "
        "known ages, would tell more.",
        reason=reason,
    )


def _flat(likelihood: Likelihood, peak: Peak, n_failed: float) -> str:
    """Return which parameter the likelihood is flat in at a point, the other profiled out."""
    shape = math.exp(peak.theta)
    _, grad, hess = likelihood(shape, peak.level)
    _, h = _in_log_shape(shape, grad, hess)
    least = LEAST_INFORMATION * n_failed
    if not h[1, 1] < 0.0 or not -(h[0, 0] - h[0, 1] ** 2 / h[1, 1]) > least:
        return "shape-not-identified"
    if not h[0, 0] < 0.0 or not -(h[1, 1] - h[0, 1] ** 2 / h[0, 0]) > least:
        return "scale-not-identified"
    return ""


def maximise(
    likelihood: Likelihood,
    start_shape: float,
    n_failed: float,
    best_levels: Levels | None = None,
) -> tuple[float, float, float, int]:
    """Return shape, level, log likelihood and steps at the maximum.

    Parameters
    ----------
    likelihood : callable
        The log likelihood with its derivatives.
    start_shape : float
        Where to start; clipped to 0.05 to 50.
    n_failed : float
        Weighted failures, the yardstick of "flat".
    best_levels : callable, optional
        Finds the best levels at many shapes at once; otherwise they are sought one by one.

    Raises
    ------
    NoMaximum
        With `reason` ``"shape-grows-without-limit"``, ``"shape-falls-to-zero"``,
        ``"shape-not-identified"`` or ``"scale-not-identified"``.
    NotConverged
        If neither the climb nor the search over shapes settles.
    """
    theta = min(max(math.log(start_shape), math.log(0.05)), math.log(50.0))
    # Far from the peak sums overflow; what is not finite is stepped back from.
    with np.errstate(all="ignore"):
        level, _ = best_level(likelihood, math.exp(theta), 0.0)
        peak = _climb(likelihood, theta, level, n_failed)
        if not (peak.settled and peak.within and not _flat(likelihood, peak, n_failed)):
            peak = _search(likelihood, n_failed, best_levels)
    return math.exp(peak.theta), peak.level, peak.value, peak.steps


def _ranked(likelihood: Likelihood, shape: float, level: float) -> float:
    value = likelihood(shape, level)[0]
    return value if math.isfinite(value) else -math.inf


def _level_by_level(likelihood: Likelihood, grid: Array, middle: int) -> tuple[Array, Array]:
    """Return the best level at each log shape, sought from its neighbour's, and the values."""
    levels, values = np.zeros(len(grid)), np.full(len(grid), -np.inf)
    for side in (range(middle, len(grid)), range(middle, -1, -1)):
        level = float(levels[middle])
        last = math.exp(grid[middle])
        for i in side:
            shape = math.exp(grid[i])
            # A level far from 0 grows with shape, since it is told at one reference age.
            start = max((level, level * shape / last), key=partial(_ranked, likelihood, shape))
            level, values[i] = best_level(likelihood, shape, start)
            levels[i], last = level, shape
    return levels, values


def _search(likelihood: Likelihood, n_failed: float, best_levels: Levels | None) -> Peak:
    """Profile the level out over a grid of shapes, climb from the best, or say there is none."""
    grid = np.arange(LOG_SHAPE_RANGE[0], LOG_SHAPE_RANGE[1], GRID_STEP)
    middle = int(np.argmin(np.abs(grid)))
    if best_levels is None:
        levels, values = _level_by_level(likelihood, grid, middle)
    else:
        levels, values = best_levels(np.exp(grid))
    values[~np.isfinite(values)] = -np.inf
    best = int(np.argmax(values))
    slack = 1e-9 * max(n_failed, abs(float(values[best])))
    equal = np.flatnonzero(values >= values[best] - slack)
    at_top, at_bottom = equal[-1] == len(grid) - 1, equal[0] == 0
    if len(equal) >= PLATEAU or at_top or at_bottom:
        high = at_top or equal[0] > middle
        low = at_bottom or equal[-1] < middle
        raise _no_maximum(
            "shape-not-identified"
            if high == low
            else "shape-grows-without-limit"
            if high
            else "shape-falls-to-zero"
        )
    peak = _climb(likelihood, float(grid[best]), float(levels[best]), n_failed)
    if not peak.within:
        raise _no_maximum(
            "shape-grows-without-limit" if peak.theta > 0.0 else "shape-falls-to-zero"
        )
    flat = _flat(likelihood, peak, n_failed)
    if flat or abs(peak.level) > 1e3 * (1.0 + math.exp(peak.theta)):
        raise _no_maximum(flat or "scale-not-identified")
    if not peak.settled:
        raise NotConverged(
            f"The fit did not settle; last shape {math.exp(peak.theta):g}.",
            "Check the hours; if they are right, use bounds for assumed shapes.",
        )
    return peak
