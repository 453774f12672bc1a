"""Climbing a log likelihood of two parameters: a shape above 0 and a level on the whole line.

A damped Newton step in (log shape, level) with a line search; where that stalls, or ends where no
maximum can be, the level is profiled out over a grid of shapes, which either finds the peak or
shows that there is none.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array

MAX_STEPS = 200
LOG_SHAPE_RANGE = (math.log(1e-4), math.log(1e5))
"""A likelihood that still rises at these shapes counts as having no maximum."""

LEAST_INFORMATION = 1e-8
"""Information on log shape per failure below which the likelihood is flat, not peaked."""

Likelihood = Callable[[float, float], tuple[float, Array, Array]]
"""(shape, level) to log likelihood, gradient (2,) and Hessian (2, 2) in (shape, level)."""


def best_level(likelihood: Likelihood, shape: float, level: float) -> tuple[float, float]:
    """Return the level that is best at one shape, and the log likelihood there; concave."""
    low, high = -math.inf, math.inf
    value = -math.inf
    for _ in range(100):
        value, grad, hess = likelihood(shape, level)
        if grad[1] > 0.0:
            low = level
        else:
            high = level
        slope, curve = float(grad[1]), float(hess[1, 1])
        # A curve of next to nothing gives no step of its own, only a direction.
        move = -slope / curve if curve < -1e-300 else math.copysign(4.0, slope)
        move = min(max(move, -4.0), 4.0)
        ahead = level + move
        if not low < ahead < high:
            ahead = 0.5 * (low + high) if math.isfinite(low + high) else ahead
        small = abs(ahead - level) < 1e-9
        level = ahead
        if small or abs(level) > 600.0:
            break
    return level, value


def _climb(
    likelihood: Likelihood, theta: float, level: float, n_failed: float
) -> tuple[float, float, float, int, bool]:
    """Newton's method in (log shape, level) with a line search."""
    value, grad, hess = likelihood(math.exp(theta), level)
    for step in range(1, MAX_STEPS + 1):
        shape = math.exp(theta)
        g = np.array([shape * grad[0], grad[1]])
        h = np.array(
            [[shape**2 * hess[0, 0] + shape * grad[0], shape * hess[0, 1]], [0.0, hess[1, 1]]]
        )
        h[1, 0] = h[0, 1]
        if not np.isfinite(h).all():
            return theta, level, value, step, False
        roots, axes = np.linalg.eigh(-h)
        roots = np.maximum(np.abs(roots), 1e-12 * max(1e-300, float(np.abs(roots).max())))
        move = axes @ ((axes.T @ g) / roots)
        gain = float(g @ move)
        move *= min(1.0, 2.0 / max(abs(move[0]), 1e-300), 6.0 / max(abs(move[1]), 1e-300))
        small = gain < 1e-18 * max(1.0, abs(value)) or gain < 1e-16 * n_failed
        part = 1.0
        for _ in range(60):
            t, v = theta + part * move[0], level + part * move[1]
            if not LOG_SHAPE_RANGE[0] - 3.0 < t < LOG_SHAPE_RANGE[1] + 3.0:
                return t, v, value, step, False
            new, grad_new, hess_new = likelihood(math.exp(t), v)
            if new > value or (small and new >= value - 1e-9 * abs(value)):
                break
            part *= 0.5
        else:
            return theta, level, value, step, small
        theta, level, value, grad, hess = t, v, new, grad_new, hess_new
        if small:
            return theta, level, value, step, True
    return theta, level, value, MAX_STEPS, False


def _no_maximum(theta: float, *, flat: bool) -> NoMaximum:
    hint = "Bounds for assumed shapes can still be given; failures at known ages would tell more."
    if flat:
        return NoMaximum(
            "The checks that found the failures do not tell at which ages they lie, so many "
            "shapes fit equally well.",
            hint,
            reason="shape-not-identified",
        )
    if theta > 0.0:
        return NoMaximum(
            "The likelihood keeps rising with shape: every failure could lie at one age.",
            hint,
            reason="shape-grows-without-limit",
        )
    return NoMaximum(
        "The likelihood keeps rising as shape falls to 0.", hint, reason="shape-falls-to-zero"
    )


def _checked(likelihood: Likelihood, theta: float, level: float, n_failed: float) -> bool:
    """Whether a point is a peak: information on log shape, level profiled out, is not nil."""
    shape = math.exp(theta)
    _, _, hess = likelihood(shape, level)
    if not hess[1, 1] < 0.0:
        return False
    info = -(hess[0, 0] - hess[0, 1] ** 2 / hess[1, 1]) * shape**2
    return bool(info > LEAST_INFORMATION * n_failed)


def maximise(
    likelihood: Likelihood, start_shape: float, n_failed: float
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

    Raises
    ------
    NoMaximum
        With `reason` ``"shape-grows-without-limit"``, ``"shape-falls-to-zero"`` or
        ``"shape-not-identified"``.
    NotConverged
        If neither the climb nor the search over shapes settles.
    """
    theta = min(max(math.log(start_shape), math.log(0.05)), math.log(50.0))
    level, _ = best_level(likelihood, math.exp(theta), 0.0)
    theta, level, value, steps, done = _climb(likelihood, theta, level, n_failed)
    if (
        done
        and LOG_SHAPE_RANGE[0] < theta < LOG_SHAPE_RANGE[1]
        and _checked(likelihood, theta, level, n_failed)
    ):
        return math.exp(theta), level, value, steps
    return _search(likelihood, n_failed)


def _search(likelihood: Likelihood, n_failed: float) -> tuple[float, float, float, int]:
    """Profile the level out over a grid of shapes, climb from the best, or say there is none."""
    grid = np.arange(LOG_SHAPE_RANGE[0], LOG_SHAPE_RANGE[1], 0.25)
    middle = int(np.argmin(np.abs(grid)))
    levels, values = np.zeros(len(grid)), np.full(len(grid), -np.inf)
    for side in (range(middle, len(grid)), range(middle, -1, -1)):
        level = levels[middle]
        for i in side:
            level, values[i] = best_level(likelihood, math.exp(grid[i]), float(level))
            levels[i] = level
    values[~np.isfinite(values)] = -np.inf
    best = int(np.argmax(values))
    slack = 1e-9 * max(1.0, n_failed)
    top = np.flatnonzero(values >= values[best] - slack)
    if len(top) > 8 and top[0] > 0 and top[-1] == len(grid) - 1:
        raise _no_maximum(1.0, flat=False)
    if len(top) > 8:
        raise _no_maximum(0.0, flat=True)
    if best in (0, len(grid) - 1):
        raise _no_maximum(float(grid[best]), flat=False)
    theta, level, value, steps, done = _climb(
        likelihood, float(grid[best]), float(levels[best]), n_failed
    )
    if done and _checked(likelihood, theta, level, n_failed):
        return math.exp(theta), level, value, steps
    raise NotConverged(
        f"The fit did not settle; last shape {math.exp(theta):g}.",
        "Check the intervals; if they are right, use bounds for assumed shapes.",
    )
