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
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, NotConverged
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.weibull.no_maximum import explain_no_maximum

CHUNK = 8_192
"""Rows a pass: small enough for the processor's cache, so that little memory is needed."""

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


class _Lives:
    """Log ages over the oldest: `y` of every end, `begin` of the entries above 0."""

    def __init__(
        self,
        y: Array,
        weight: Array | None,
        begin: Array,
        begin_weight: Array | None,
        raw: tuple[Array, Array | None, Array | None],
    ) -> None:
        self.y, self.weight = y, weight
        self.begin, self.begin_weight = begin, begin_weight
        self.all_late = len(begin) == len(y)
        self._raw = raw
        self._spans: _Spans | None = None

    @property
    def spans(self) -> _Spans:
        """Return the lives as spans, built when first needed."""
        if self._spans is None:
            self._spans = _Spans.of(self.y, *self._raw)
        return self._spans


@dataclass(frozen=True, slots=True)
class _Spans:
    """The same lives without differences: lives from new, and late ones with log exit/entry."""

    new: Array
    new_weight: Array | None
    late: Array
    length: Array
    late_weight: Array | None

    @classmethod
    def of(cls, y: Array, stop: Array, entry: Array | None, weight: Array | None) -> _Spans:
        """Part the lives; `stop` and `entry` in hours."""
        if entry is None:
            return cls(y, weight, np.empty(0), np.empty(0), None)
        late = entry > 0.0
        begin = entry[late]
        return cls(
            y[~late],
            None if weight is None else weight[~late],
            y[late],
            np.log1p((stop[late] - begin) / begin),
            None if weight is None else weight[late],
        )

    def mean_at_zero(self) -> float:
        """Return K' as shape falls to 0, all lives late: the mean log age of the time at risk."""
        span = self.length if self.late_weight is None else self.late_weight * self.length
        return float((span * (self.late - 0.5 * self.length)).sum()) / float(span.sum())


Sums = tuple[float, float, float, float]


def _power_sums(y: Array, weight: Array | None, shape: float) -> Sums:
    """Return the sums of w exp(shape y) y^k for k = 0 to 3."""
    s0 = s1 = s2 = s3 = 0.0
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
        p *= c
        s2 += float(p.sum())
        s3 += float(p @ c)
    return s0, s1, s2, s3


def _span_functions(x: Array) -> list[Array]:
    """Return the integrals over u in (0, 1) of u^k exp(-xu) for k = 0 to 3."""
    small = x < 1.0
    v = np.where(small, 1.0, x)
    e = np.exp(-v)
    out = [-np.expm1(-v) / v]
    for k in (1, 2, 3):
        out.append((k * out[-1] - e) / v)
    if small.any():
        # Below 1 the differences above cancel; the series reaches full precision in 20 terms.
        s = x[small]
        term = np.ones_like(s)
        series = [np.zeros_like(s) for _ in range(4)]
        for n in range(20):
            for k in range(4):
                series[k] += term / (n + k + 1)
            term = term * (-s / (n + 1))
        for k in range(4):
            out[k][small] = series[k]
    return out


def _late_integrals(z: _Spans, shape: float) -> Sums:
    """Return the integrals of w exp(shape y) y^k from entry to exit; nothing cancels in them."""
    t = [0.0, 0.0, 0.0, 0.0]
    for i in range(0, len(z.late), CHUNK):
        a, d = z.late[i : i + CHUNK], z.length[i : i + CHUNK]
        f0, f1, f2, f3 = _span_functions(shape * d)
        p = np.exp(shape * a) * d
        if z.late_weight is not None:
            p *= z.late_weight[i : i + CHUNK]
        f1, f2, f3 = d * f1, d * d * f2, d**3 * f3
        t[0] += float((p * f0).sum())
        t[1] += float((p * (a * f0 - f1)).sum())
        t[2] += float((p * (a * a * f0 - 2.0 * a * f1 + f2)).sum())
        t[3] += float((p * (a**3 * f0 - 3.0 * a * a * f1 + 3.0 * a * f2 - f3)).sum())
    return t[0], t[1], t[2], t[3]


def _cumulants(s: Sums) -> tuple[float, float, float]:
    """Return the first three cumulants of y under weights whose moments are s / s[0]."""
    m1, m2, m3 = s[1] / s[0], s[2] / s[0], s[3] / s[0]
    return m1, m2 - m1 * m1, m3 - 3.0 * m1 * m2 + 2.0 * m1**3


def _moments(z: _Lives, shape: float) -> Sums:
    """Return K and its first three derivatives at `shape`."""
    end = _power_sums(z.y, z.weight, shape)
    s = end
    if len(z.begin):
        start = _power_sums(z.begin, z.begin_weight, shape)
        s = (end[0] - start[0], end[1] - start[1], end[2] - start[2], end[3] - start[3])
    b = 1.0 / shape
    if s[0] > 1e-3 * end[0]:
        c1, c2, c3 = _cumulants(s)
        if b - c1 > 1e-3 * b:
            return math.log(s[0]) - math.log(shape), c1 - b, c2 + b * b, c3 - 2.0 * b**3
    # Spells far shorter than their age: powers would cancel, so integrate over each span instead.
    new = _power_sums(z.spans.new, z.spans.new_weight, shape)
    late = _late_integrals(z.spans, shape)
    t0 = b * new[0]
    t1 = b * (new[1] - t0)
    t2 = b * (new[2] - 2.0 * t1)
    t3 = b * (new[3] - 3.0 * t2)
    total = (t0 + late[0], t1 + late[1], t2 + late[2], t3 + late[3])
    return (math.log(total[0]), *_cumulants(total))


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


def _root(z: _Lives, mean_y: float, start: float) -> tuple[float, float, int, bool]:
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
        k, k1, k2, k3 = _moments(z, shape)
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


def _log_share(ages: Array, top: float) -> Array:
    """Return log(age / top), without loss when an age is within rounding of the top."""
    y = ages / top
    np.log(y, out=y)
    near = y > -1e-3
    y[near] = np.log1p((ages[near] - top) / top)
    return y


def _prepare(entry: Array | None, stop: Array, weight: Array | None, top: float) -> _Lives:
    """Take logs of ages over `top`."""
    y = _log_share(stop, top)
    if entry is None:
        return _Lives(y, weight, np.empty(0), None, (stop, None, weight))
    late = entry > 0.0
    if late.all():
        return _Lives(y, weight, _log_share(entry, top), weight, (stop, entry, weight))
    return _Lives(
        y,
        weight,
        _log_share(entry[late], top),
        None if weight is None else weight[late],
        (stop, entry, weight),
    )


def _sampled(
    entry: Array | None, stop: Array, weight: Array | None, top: float, step: int
) -> _Lives:
    """Prepare every `step`-th life."""

    def cut(x: Array | None) -> Array | None:
        return None if x is None else np.ascontiguousarray(x[::step])

    return _prepare(cut(entry), np.ascontiguousarray(stop[::step]), cut(weight), top)


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
        raise explain_no_maximum(0, 0.0, at_top=False)
    top = float(stop.max())
    if float(ages.min()) >= top:
        raise explain_no_maximum(len(ages), top, at_top=True)
    wd = np.ones(len(ages)) if w is None else w[dead]
    r = float(wd.sum())
    sum_y = float((wd * _log_share(ages, top)).sum())
    lives = _prepare(begin, stop, w, top)
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
    return WeibullSolution(
        shape=shape,
        scale_h=math.exp(log_scale),
        log_likelihood=log_likelihood,
        n_iter=n_iter,
        converged=True,
    )
