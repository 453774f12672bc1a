"""The Weibull likelihood with every kind of knowledge: exact, running, found at check, late entry.

Parameters are shape and `level`, the log cumulative hazard at a reference age amid the failures, so
that z = level + shape (y - y_ref) is the log cumulative hazard at log age y. Without delayed entry
the log likelihood is concave in these two (Burridge 1981); with it a damped Newton step with a line
search still climbs, and where that stalls the level is profiled out over a grid of shapes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array

CHUNK = 16_384
MAX_STEPS = 200
LOG_SHAPE_RANGE = (math.log(1e-4), math.log(1e5))
"""Interval-known lives whose likelihood still rises at these shapes count as having no maximum."""

LEAST_INFORMATION = 1e-8
"""Information on log shape per failure below which the likelihood is flat, not peaked."""


@dataclass(frozen=True, slots=True)
class Lives:
    """Log ages for the likelihood, from `prepare_lives`.

    `stop`, `span`, `weight` are of the time surely survived: log age at its end, log ratio of end
    to entry (infinite from new). `found`, `gap`, `found_weight` are of the intervals that hold a
    failure. All log ages are relative to the reference age.
    """

    stop: Array
    span: Array
    weight: Array
    found: Array
    gap: Array
    found_weight: Array
    exact_weight: float
    exact_sum: float
    exact_log_hours: float
    reference_h: float

    @property
    def n_failed(self) -> float:
        """Return the weighted number of failures."""
        return self.exact_weight + float(self.found_weight.sum())


def log_ratio(top: Array, bottom: Array) -> Array:
    """Return log(top / bottom) without loss when they are close; infinite where bottom is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        near = bottom > 0.5 * top
        return np.where(near, np.log1p((top - bottom) / bottom), np.log(top) - np.log(bottom))


def prepare_lives(entry: Array, lower: Array, upper: Array, failed: Array, weight: Array) -> Lives:
    """Sort the rows by what they tell; hours as in `Spells`, rows of weight 0 left out."""
    keep = weight > 0.0
    if not keep.all():
        entry, lower, upper, failed, weight = (
            x[keep] for x in (entry, lower, upper, failed, weight)
        )
    interval = failed & (lower < upper)
    exact = failed & ~interval
    w_exact = weight[exact]
    log_exact = np.log(upper[exact])
    middle = np.log(0.5 * (lower[interval] + upper[interval]))
    n = float(weight[failed].sum())
    where = float((w_exact * log_exact).sum() + (weight[interval] * middle).sum())
    reference = where / n if n > 0.0 else 0.0
    survived = lower > entry
    return Lives(
        stop=np.log(lower[survived]) - reference,
        span=log_ratio(lower[survived], entry[survived]),
        weight=weight[survived],
        found=np.log(upper[interval]) - reference,
        gap=log_ratio(upper[interval], lower[interval]),
        found_weight=weight[interval],
        exact_weight=float(w_exact.sum()),
        exact_sum=float((w_exact * (log_exact - reference)).sum()),
        exact_log_hours=float((w_exact * log_exact).sum()),
        reference_h=math.exp(reference),
    )


def _rise(y: Array, span: Array, shape: float, level: float) -> tuple[Array, Array, Array]:
    """Return the cumulative hazard gained over a span, and its two derivatives in shape."""
    with np.errstate(over="ignore", invalid="ignore"):
        top = np.exp(np.minimum(level + shape * y, 700.0))
        q = np.exp(-shape * span)
        finite = np.where(np.isfinite(span), span, 0.0)
        m0 = top * -np.expm1(-shape * span)
        m1 = y * m0 + finite * q * top
        m2 = y * y * m0 + (2.0 * y - finite) * finite * q * top
    return m0, m1, m2


def evaluate(lives: Lives, shape: float, level: float) -> tuple[float, Array, Array]:
    """Return log likelihood, gradient (2,) and Hessian (2, 2) in (shape, level)."""
    r = lives.exact_weight
    value = r * (math.log(shape) + level) + shape * lives.exact_sum - lives.exact_log_hours
    grad = np.array([r / shape + lives.exact_sum, r])
    hess = np.array([[-r / shape**2, 0.0], [0.0, 0.0]])
    for i in range(0, len(lives.stop), CHUNK):
        cut = slice(i, i + CHUNK)
        w = lives.weight[cut]
        m0, m1, m2 = (float(w @ m) for m in _rise(lives.stop[cut], lives.span[cut], shape, level))
        value -= m0
        grad -= (m1, m0)
        hess -= ((m2, m1), (m1, m0))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for i in range(0, len(lives.found), CHUNK):
            cut = slice(i, i + CHUNK)
            w = lives.found_weight[cut]
            d0, d1, d2 = _rise(lives.found[cut], lives.gap[cut], shape, level)
            odds = 1.0 / np.expm1(d0)
            value += float(w @ log_failed(d0))
            # Ratios first: odds * d0 tends to 1 as the interval shrinks.
            u0, u1, u2 = odds * d0, odds * d1, odds * d2
            grad += (w @ u1, w @ u0)
            back = w * (1.0 + 1.0 / odds)
            back[~np.isfinite(back)] = 0.0
            h12 = w @ u1 - back @ (u0 * u1)
            hess += ((w @ u2 - back @ (u1 * u1), h12), (h12, w @ u0 - back @ (u0 * u0)))
    return float(value), grad, hess


def log_failed(rise: Array) -> Array:
    """Return log(1 - exp(-rise)), accurate at both ends."""
    with np.errstate(divide="ignore"):
        return np.where(rise > 0.69, np.log1p(-np.exp(-rise)), np.log(-np.expm1(-rise)))


def _best_level(lives: Lives, shape: float, level: float) -> tuple[float, float]:
    """Return the level that is best at one shape, and the log likelihood there; concave."""
    low, high = -math.inf, math.inf
    value = -math.inf
    for _ in range(100):
        value, grad, hess = evaluate(lives, shape, level)
        if grad[1] > 0.0:
            low = level
        else:
            high = level
        move = -grad[1] / hess[1, 1] if hess[1, 1] < 0.0 else math.copysign(4.0, grad[1])
        move = min(max(float(move), -4.0), 4.0)
        ahead = level + move
        if not low < ahead < high:
            ahead = 0.5 * (low + high) if math.isfinite(low + high) else ahead
        if abs(ahead - level) < 1e-9 or abs(level) > 600.0:
            break
        level = ahead
    return level, value


def _climb(lives: Lives, theta: float, level: float) -> tuple[float, float, float, int, bool]:
    """Newton's method in (log shape, level) with a line search."""
    value, grad, hess = evaluate(lives, math.exp(theta), level)
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
        small = gain < 1e-18 * max(1.0, abs(value)) or gain < 1e-16 * lives.n_failed
        part = 1.0
        for _ in range(60):
            t, v = theta + part * move[0], level + part * move[1]
            if not LOG_SHAPE_RANGE[0] - 3.0 < t < LOG_SHAPE_RANGE[1] + 3.0:
                return t, v, value, step, False
            new, grad_new, hess_new = evaluate(lives, math.exp(t), v)
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


def _checked(lives: Lives, theta: float, level: float) -> bool:
    """Whether a point is a peak: information on log shape, level profiled out, is not nil."""
    shape = math.exp(theta)
    _, _, hess = evaluate(lives, shape, level)
    if not hess[1, 1] < 0.0:
        return False
    info = -(hess[0, 0] - hess[0, 1] ** 2 / hess[1, 1]) * shape**2
    return bool(info > LEAST_INFORMATION * lives.n_failed)


def solve_general(lives: Lives, start_shape: float) -> tuple[float, float, float, int]:
    """Return shape, level, log likelihood and steps at the maximum.

    Raises
    ------
    NoMaximum
        With `reason` ``"no-failures"``, ``"shape-grows-without-limit"``,
        ``"shape-falls-to-zero"``, ``"shape-not-identified"`` or ``"nothing-survived"`` (every life
        had failed by its first check).
    NotConverged
        If neither the climb nor the search over shapes settles.
    """
    if lives.n_failed == 0.0:
        raise NoMaximum(
            "No life ended by the failure in question, so no Weibull fit exists.",
            "Bounds for assumed shapes can still be given.",
            reason="no-failures",
        )
    if len(lives.stop) == 0:
        raise NoMaximum(
            "Every life had failed by its first check, so nothing tells how early.",
            "Earlier checks, or lives that passed one, would tell.",
            reason="nothing-survived",
        )
    theta = min(max(math.log(start_shape), math.log(0.05)), math.log(50.0))
    level, _ = _best_level(lives, math.exp(theta), 0.0)
    theta, level, value, steps, done = _climb(lives, theta, level)
    if done and LOG_SHAPE_RANGE[0] < theta < LOG_SHAPE_RANGE[1] and _checked(lives, theta, level):
        return math.exp(theta), level, value, steps
    return _search(lives)


def _search(lives: Lives) -> tuple[float, float, float, int]:
    """Profile the level out over a grid of shapes, climb from the best, or say there is none."""
    grid = np.arange(LOG_SHAPE_RANGE[0], LOG_SHAPE_RANGE[1], 0.25)
    middle = int(np.argmin(np.abs(grid)))
    levels, values = np.zeros(len(grid)), np.full(len(grid), -np.inf)
    for side in (range(middle, len(grid)), range(middle, -1, -1)):
        level = levels[middle]
        for i in side:
            level, values[i] = _best_level(lives, math.exp(grid[i]), float(level))
            levels[i] = level
    values[~np.isfinite(values)] = -np.inf
    best = int(np.argmax(values))
    slack = 1e-9 * max(1.0, lives.n_failed)
    top = np.flatnonzero(values >= values[best] - slack)
    if len(top) > 8 and top[0] > 0 and top[-1] == len(grid) - 1:
        raise _no_maximum(1.0, flat=False)
    if len(top) > 8:
        raise _no_maximum(0.0, flat=True)
    if best in (0, len(grid) - 1):
        raise _no_maximum(float(grid[best]), flat=False)
    theta, level, value, steps, done = _climb(lives, float(grid[best]), float(levels[best]))
    if done and _checked(lives, theta, level):
        return math.exp(theta), level, value, steps
    raise NotConverged(
        f"The Weibull fit to interval-known failures did not settle; last shape "
        f"{math.exp(theta):g}.",
        "Check the intervals; if they are right, use bounds for assumed shapes.",
    )


def covariance_at(lives: Lives, shape: float, level: float) -> Array:
    """Return the (2, 2) covariance of (shape, scale_h) from the observed information.

    log scale = log reference - level / shape; at a maximum the change of parameters is exact.
    """
    _, _, hess = evaluate(lives, shape, level)
    cov = np.linalg.inv(-hess)
    scale = lives.reference_h * math.exp(-level / shape)
    change = np.array([[1.0, 0.0], [scale * level / shape**2, -scale / shape]])
    return np.asarray(change @ cov @ change.T)
