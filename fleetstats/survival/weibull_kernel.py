"""The Weibull maximum for exact and right-censored lives with delayed entry, fast.

With the scale profiled out the log likelihood is a function of shape alone. Write y for the log of
age over the oldest age and n(y) for the number at risk there. Then

    K(shape) = log of the integral of n(y) exp(shape y) dy,
    profile  = shape * sum(w d y) - r K(shape) + constant,

which is concave, because K is the log of a Laplace transform: whatever the entries, there is at
most one maximum, where K'(shape) is the mean log age at failure. K' runs from its value at shape 0
(minus infinity if any life was followed from new) up to 0, the log of the oldest age; that gives
the exact conditions under which no maximum exists. log(-K') is nearly a straight line in log shape,
so Newton's method on it needs few steps from any start.

The likelihood is that of Lawless (2003), section 5.2, with left truncation as in his section 2.4;
the condition on existence follows from the theory of exponential families (Barndorff-Nielsen 1978,
section 9.3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, NoMaximum, NotConverged
from fleetstats.core.value import Array, Value

CHUNK = 16_384
"""Rows a pass: small enough for the processor's cache, so that little memory is needed."""

SAMPLE = 20_000
"""Rows used to find a start when there are more than five times as many."""

MAX_STEPS = 200
TOLERANCE = 1e-8
"""Last Newton step in log shape; convergence is quadratic, so the error is far smaller."""

LOG_SHAPE_LIMIT = 230.0
"""Shapes are searched from 1e-100 to 1e100: no double can hold data outside that."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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


@dataclass(frozen=True, slots=True)
class _Lives:
    """Log ages, scaled by the oldest: `new` lives from 0, `late` lives with a log entry as well."""

    new: Array
    new_weight: Array | None
    late: Array
    late_entry: Array
    late_span: Array
    late_weight: Array | None
    late_close: bool

    def sample(self, step: int) -> _Lives:
        """Return every `step`-th life."""

        def cut(x: Array) -> Array:
            return np.ascontiguousarray(x[::step])

        return _Lives(
            cut(self.new),
            None if self.new_weight is None else cut(self.new_weight),
            cut(self.late),
            cut(self.late_entry),
            cut(self.late_span),
            None if self.late_weight is None else cut(self.late_weight),
            self.late_close,
        )

    @property
    def n(self) -> int:
        return len(self.new) + len(self.late)


def _power_sums(y: Array, weight: Array | None, shape: float) -> tuple[float, float, float]:
    """Return the sums of w exp(shape y), of that times y, and times y squared."""
    s0 = s1 = s2 = 0.0
    buffer = np.empty(min(len(y), CHUNK))
    for i in range(0, len(y), CHUNK):
        c = y[i : i + CHUNK]
        p = buffer[: len(c)]
        np.multiply(c, shape, out=p)
        np.exp(p, out=p)
        if weight is not None:
            p *= weight[i : i + CHUNK]
        s0 += float(p.sum())
        p *= c
        s1 += float(p.sum())
        s2 += float(p @ c)
    return s0, s1, s2


def _span_functions(x: Array) -> tuple[Array, Array, Array]:
    """Return the integrals over u in (0, 1) of exp(-xu), u exp(-xu) and u^2 exp(-xu)."""
    small = x < 0.5
    v = np.where(small, 1.0, x)
    e = np.exp(-v)
    f0 = -np.expm1(-v) / v
    f1 = (f0 - e) / v
    f2 = (2.0 * f1 - e) / v
    if small.any():
        # Below 0.5 the differences above cancel; twelve terms of the series reach full precision.
        s = x[small]
        g0, g1, g2 = np.zeros_like(s), np.zeros_like(s), np.zeros_like(s)
        term = np.ones_like(s)
        for k in range(13):
            g0 += term / (k + 1)
            g1 += term / (k + 2)
            g2 += term / (k + 3)
            term *= -s / (k + 1)
        f0[small], f1[small], f2[small] = g0, g1, g2
    return f0, f1, f2


def _late_integrals(z: _Lives, shape: float) -> tuple[float, float, float]:
    """Return the integrals of w exp(shape y) y^k from entry to exit; no cancellation."""
    t0 = t1 = t2 = 0.0
    for i in range(0, len(z.late), CHUNK):
        a, d = z.late[i : i + CHUNK], z.late_span[i : i + CHUNK]
        f0, f1, f2 = _span_functions(shape * d)
        p = np.exp(shape * a) * d
        if z.late_weight is not None:
            p *= z.late_weight[i : i + CHUNK]
        t0 += float((p * f0).sum())
        t1 += float((p * (a * f0 - d * f1)).sum())
        t2 += float((p * (a * a * f0 - 2.0 * a * d * f1 + d * d * f2)).sum())
    return t0, t1, t2


def _moments(z: _Lives, shape: float) -> tuple[float, float, float]:
    """Return K, K' and K'' at `shape`."""
    new = _power_sums(z.new, z.new_weight, shape)
    if len(z.late) and not z.late_close:
        out = _power_sums(z.late, z.late_weight, shape)
        start = _power_sums(z.late_entry, z.late_weight, shape)
        s0, s1, s2 = (n + a - b for n, a, b in zip(new, out, start, strict=True))
        if s0 > 1e-3 * (new[0] + out[0]):
            first = s1 / s0 - 1.0 / shape
            if abs(first) * shape > 1e-3:
                second = s2 / s0 - (s1 / s0) ** 2 + 1.0 / shape**2
                return math.log(s0) - math.log(shape), first, second
    # Integrals of exp(shape y) y^k from minus infinity to y, for the lives followed from new.
    b = 1.0 / shape
    t = [
        b * new[0],
        b * (new[1] - b * new[0]),
        b * (new[2] - 2.0 * b * (new[1] - b * new[0])),
    ]
    if len(z.late):
        t = [x + y for x, y in zip(t, _late_integrals(z, shape), strict=True)]
    first = t[1] / t[0]
    return math.log(t[0]), first, t[2] / t[0] - first * first


def _root(z: _Lives, mean_y: float, start: float) -> tuple[float, float, int, bool]:
    """Return log shape, K there, passes and whether converged; safeguarded Newton."""
    low, high = -math.inf, math.inf
    theta = min(max(start, -LOG_SHAPE_LIMIT), LOG_SHAPE_LIMIT)
    target = math.log(-mean_y)
    for step in range(1, MAX_STEPS + 1):
        shape = math.exp(theta)
        k, first, second = _moments(z, shape)
        f = math.log(-first) - target
        if f > 0.0:
            low = theta
        else:
            high = theta
        slope = shape * second / first
        move = -f / slope if slope < 0.0 else math.copysign(math.inf, f)
        move = min(max(move, -8.0), 8.0)
        if abs(move) < TOLERANCE:
            # K at the end of the last, tiny step, by its Taylor series.
            change = shape * math.expm1(move)
            return theta + move, k + change * (first + 0.5 * change * second), step, True
        ahead = theta + move
        if not low < ahead < high:
            ahead = 0.5 * (low + high) if math.isfinite(low) and math.isfinite(high) else ahead
        if math.isfinite(low) and math.isfinite(high) and high - low < 1e-13 * max(1.0, abs(low)):
            return theta, k, step, True
        theta = min(max(ahead, -LOG_SHAPE_LIMIT), LOG_SHAPE_LIMIT)
    return theta, k, MAX_STEPS, False


def _log_share(ages: Array, top: float) -> Array:
    """Return log(age / top), without loss when an age is within rounding of the top."""
    y = ages / top
    np.log(y, out=y)
    near = y > -1e-3
    y[near] = np.log1p((ages[near] - top) / top)
    return y


def _prepare(entry: Array | None, stop: Array, weight: Array | None, top: float) -> _Lives:
    """Take logs of ages over `top` and set apart the lives followed from new."""
    y = _log_share(stop, top)
    empty = np.empty(0)
    if entry is None:
        return _Lives(y, weight, empty, empty, empty, None, False)
    late = entry > 0.0
    if late.all():
        new, new_w, late_y, late_w, e, t = empty, None, y, weight, entry, stop
    else:
        new, late_y, e, t = y[~late], y[late], entry[late], stop[late]
        new_w = None if weight is None else weight[~late]
        late_w = None if weight is None else weight[late]
    ratio = (t - e) / e
    # Spells far shorter than their age: differences of powers would cancel.
    close = float(np.median(ratio[:: max(1, len(ratio) // 10_000)])) < 1e-2
    return _Lives(new, new_w, late_y, np.log(e / top), np.log1p(ratio), late_w, close)


def _refuse(n_failed: int, oldest: float, *, at_top: bool) -> NoMaximum:
    if n_failed == 0:
        return NoMaximum(
            "No life ended by the failure in question, so no Weibull fit exists.",
            "Bounds for assumed shapes can still be given.",
            reason="no-failures",
        )
    if at_top and n_failed == 1:
        return NoMaximum(
            f"The only failure is at the oldest age seen, {oldest:g} h, so the likelihood keeps "
            "rising with shape.",
            "Bounds for assumed shapes can still be given.",
            reason="one-failure-at-oldest-age",
        )
    if at_top:
        return NoMaximum(
            f"All {n_failed} failures are at one age, {oldest:g} h, and no life went past it, so "
            "the likelihood keeps rising with shape.",
            "If the failures were found at checks, give the last hours known good.",
            reason="all-failures-at-one-age",
        )
    return NoMaximum(
        "Every life was first seen late, and failures came so early after entry that the "
        "likelihood keeps rising as shape falls to 0.",
        "Lives followed from new, or bounds for assumed shapes, would answer.",
        reason="shape-falls-to-zero",
    )


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
        raise _refuse(0, 0.0, at_top=False)
    top = float(stop.max())
    if float(ages.min()) >= top:
        raise _refuse(len(ages), top, at_top=True)
    wd = np.ones(len(ages)) if w is None else w[dead]
    r = float(wd.sum())
    sum_y = float((wd * _log_share(ages, top)).sum())
    lives = _prepare(begin, stop, w, top)
    mean_y = sum_y / r
    if len(lives.new) == 0 and _mean_at_zero(lives) >= mean_y:
        raise _refuse(len(ages), top, at_top=False)
    start = math.log(-1.0 / mean_y) if start_shape is None else math.log(start_shape)
    if start_shape is None and lives.n > 5 * SAMPLE:
        start = _root(lives.sample(lives.n // SAMPLE), mean_y, start)[0]
    theta, k, n_iter, converged = _root(lives, mean_y, start)
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
    return WeibullSolution(
        shape=shape,
        scale_h=math.exp(log_scale),
        log_likelihood=log_likelihood,
        n_iter=n_iter,
        converged=True,
    )


def _mean_at_zero(z: _Lives) -> float:
    """Return K' as shape falls to 0: the mean log age of the time at risk, all lives late."""
    w = 1.0 if z.late_weight is None else z.late_weight
    span = float((w * z.late_span).sum())
    return float((w * z.late_span * (z.late - 0.5 * z.late_span)).sum()) / span
