"""The Weibull maximum for exact and right-censored lives with delayed entry, fast.

With the scale profiled out the log likelihood is a function of shape alone. Write y for the log of
age over the oldest age and n(y) for the number at risk there. Then

    K(shape) = log of the integral of n(y) exp(shape y) dy,
    profile  = shape * sum(w d y) - r K(shape) + constant,

which is concave, because K is the log of a Laplace transform: whatever the entries, there is at
most one maximum, where K'(shape) is the mean log age at failure. K' runs from its value at shape 0
(minus infinity if any life was followed from new) up to 0, the log of the oldest age; that gives
the exact conditions under which no maximum exists. log(-K') is nearly a straight line in log shape,
so Halley's method (Newton's with the second derivative) on it needs few steps from any start.

The likelihood is that of Lawless (2003), section 5.2, with left truncation as in his section 2.4;
the condition on existence follows from the theory of exponential families (Barndorff-Nielsen 1978,
section 9.3).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, NotConverged
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.weibull.no_maximum import explain_no_maximum
from fleetstats.survival.weibull.weibull_sums import LogLives, log_share, moments, prepare

SAMPLE = 20_000
"""Rows used to find a start when there are more than five times as many."""

MAX_STEPS = 200
TOLERANCE = 1e-5
"""Last step in log shape; convergence is cubic, so the error is of the order of its cube."""

LONGEST_STEP = 8.0

SMALL_SHAPE = 0.02
"""Shape below which it is asked whether a maximum exists at all, if every life is late."""

LOG_SHAPE_LIMIT = 230.0
"""Shapes are searched from 1e-100 to 1e100: no double can hold data outside that."""


@value
class WeibullSolution(Value):
    """Where the Weibull likelihood is greatest.

    `log_likelihood` is that of full densities on hours, delayed entry divided out; `n_iter` counts
    passes through all the data.
    """

    shape: float
    scale_h: float
    log_likelihood: float
    n_iter: int
    converged: bool


def _step(f: float, k1: float, k2: float, k3: float, shape: float) -> float:
    """Return Halley's step in log shape towards f = log(-K') - log(-mean) = 0."""
    g = k2 / k1
    slope = shape * g
    if not slope < 0.0:
        return math.copysign(LONGEST_STEP, f)
    newton = -f / slope
    bend = slope + shape * shape * (k3 / k1 - g * g)
    factor = 1.0 + 0.5 * newton * bend / slope
    # Halley's denominator only where its correction is mild.
    move = newton / factor if 0.5 < factor < 2.0 else newton
    return min(max(move, -LONGEST_STEP), LONGEST_STEP)


def _root(z: LogLives, mean_y: float, start: float) -> tuple[float, float, int, bool]:
    """Return log shape, K there, passes and whether converged; safeguarded Halley steps."""
    low, high = -math.inf, math.inf
    theta = min(max(start, -LOG_SHAPE_LIMIT), LOG_SHAPE_LIMIT)
    target = math.log(-mean_y)
    checked = not z.all_late
    k = math.nan
    for step in range(1, MAX_STEPS + 1):
        if not checked and theta < math.log(SMALL_SHAPE):
            if z.spans.mean_at_zero() >= mean_y:
                return -math.inf, k, step, False
            checked = True
        shape = math.exp(theta)
        k, k1, k2, k3 = moments(z, shape)
        f = math.log(-k1) - target
        if f > 0.0:
            low = theta
        else:
            high = theta
        move = _step(f, k1, k2, k3, shape)
        if abs(move) < TOLERANCE:
            # K at the end of the last, tiny step, by its Taylor series.
            change = shape * math.expm1(move)
            return theta + move, k + change * (k1 + change * (k2 / 2 + change * k3 / 6)), step, True
        closed = math.isfinite(low) and math.isfinite(high)
        if closed and high - low < 1e-13 * max(1.0, abs(low)):
            return theta, k, step, True
        ahead = theta + move
        if not low < ahead < high and closed:
            ahead = 0.5 * (low + high)
        theta = min(max(ahead, -LOG_SHAPE_LIMIT), LOG_SHAPE_LIMIT)
    return theta, k, MAX_STEPS, False


def _sampled(
    entry: Array | None, stop: Array, weight: Array | None, top: float, step: int
) -> LogLives:
    """Prepare every `step`-th life."""

    def cut(x: Array | None) -> Array | None:
        return None if x is None else np.ascontiguousarray(x[::step])

    return prepare(cut(entry), np.ascontiguousarray(stop[::step]), cut(weight), top)


def solve_weibull(
    entry: ArrayLike | None,
    exit: ArrayLike,
    failed: ArrayLike,
    weight: ArrayLike | None = None,
    *,
    start_shape: float | None = None,
) -> WeibullSolution:
    """Maximise the Weibull likelihood of exact and right-censored lives with delayed entry.

    Parameters
    ----------
    entry : (n,) float or None
        Hours at which observation began; None or 0 when followed from new.
    exit : (n,) float
        Hours of the end; later than entry.
    failed : (n,) bool
        Whether the failure in question ended the life.
    weight : (n,) float or None
        How many lives each row stands for; 0 or more.
    start_shape : float or None
        Where to start; any positive number ends at the same place.

    Returns
    -------
    WeibullSolution

    Raises
    ------
    NoMaximum
        With `reason`: ``"no-failures"``; ``"one-failure-at-oldest-age"`` or
        ``"all-failures-at-one-age"`` when every failure is at the greatest age of all lives
        (failures tied at a lesser age are solved); ``"shape-falls-to-zero"`` when every life
        entered late and the mean log age at failure is no greater than that of the time at risk.
    FitError
        If no number can hold the scale, which only an extremely small shape brings about.
    """
    return _solve(entry, exit, failed, weight, start_shape)[0]


def solve_with_covariance(
    entry: ArrayLike | None, exit: ArrayLike, failed: ArrayLike, weight: ArrayLike | None
) -> tuple[WeibullSolution, Array]:
    """Return the maximum as `solve_weibull`, and the covariance (2, 2) of shape and scale in hours.

    With u the log cumulative hazard at the oldest age, c the mean log age over it of what is at
    risk under the fitted hazard and r failures, the observed information in (shape, u) is

        r [[K'' + c^2, c], [c, 1]],

    so that the variance of the shape is 1 / (r K''); log scale = log oldest - u / shape.
    """
    best, lives, top, r = _solve(entry, exit, failed, weight, None)
    shape, scale = best.shape, best.scale_h
    _, k1, k2, _ = moments(lives, shape)
    mean = k1 + 1.0 / shape
    of_rate = np.array([[1.0, -mean], [-mean, k2 + mean * mean]]) / (r * k2)
    level = shape * (math.log(top) - math.log(scale))
    change = np.array([[1.0, 0.0], [scale * level / shape**2, -scale / shape]])
    return best, np.asarray(change @ of_rate @ change.T)


def _solve(
    entry: ArrayLike | None,
    exit: ArrayLike,
    failed: ArrayLike,
    weight: ArrayLike | None,
    start_shape: float | None,
) -> tuple[WeibullSolution, LogLives, float, float]:
    """Return the maximum, the lives as sums need them, the oldest age and the failures."""
    stop = np.asarray(exit, dtype=np.float64)
    dead = np.asarray(failed, dtype=bool)
    begin = None if entry is None else np.broadcast_to(np.asarray(entry, np.float64), stop.shape)
    if begin is not None and not begin.any():
        begin = None
    w = None if weight is None else np.asarray(weight, dtype=np.float64)
    if w is not None and not w.all():
        keep = w > 0.0
        stop, dead, w = stop[keep], dead[keep], w[keep]
        begin = None if begin is None else begin[keep]
    ages = stop[dead]
    if len(ages) == 0:
        raise explain_no_maximum(0, 0.0, at_top=False)
    top = float(stop.max())
    if float(ages.min()) >= top:
        raise explain_no_maximum(len(ages), top, at_top=True)
    wd = np.ones(len(ages)) if w is None else w[dead]
    r = float(wd.sum())
    sum_y = float((wd * log_share(ages, top)).sum())
    lives = prepare(begin, stop, w, top)
    mean_y = sum_y / r
    start = math.log(-1.0 / mean_y) if start_shape is None else math.log(start_shape)
    if start_shape is None and len(stop) > 5 * SAMPLE:
        rough = _root(_sampled(begin, stop, w, top, len(stop) // SAMPLE), mean_y, start)
        start = rough[0] if rough[3] else start
    theta, k, n_iter, converged = _root(lives, mean_y, start)
    if theta == -math.inf:
        raise explain_no_maximum(len(ages), top, at_top=False)
    if not converged:
        raise NotConverged(
            f"The Weibull fit did not settle within {MAX_STEPS} steps; last shape "
            f"{math.exp(theta):g}.",
            "Please report these data; every maximum that exists should be found.",
        )
    shape = math.exp(theta)
    log_scale = math.log(top) + (k + theta - math.log(r)) / shape
    if abs(log_scale) > 700.0:
        raise FitError(
            f"The Weibull fit has shape {shape:.3g} and a scale that no number of hours can hold.",
            "Such data say nothing of a scale; use bounds for assumed shapes.",
        )
    log_likelihood = (shape - 1.0) * sum_y - r * (math.log(top) + k + 1.0 - math.log(r))
    solution = WeibullSolution(
        shape=shape,
        scale_h=math.exp(log_scale),
        log_likelihood=log_likelihood,
        n_iter=n_iter,
        converged=True,
    )
    return solution, lives, top, r
