"""Sums over lives that the Weibull likelihood needs: of powers of age, by chunks, without loss.

With y the log of age over the oldest age and n(y) the number at risk there, `moments` returns the
log of the integral of n(y) exp(shape y) dy and its derivatives in shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array

CHUNK = 8_192
"""Rows a pass: small enough for the processor's cache, so that little memory is needed."""


class LogLives:
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
        self._spans: Spans | None = None

    @property
    def spans(self) -> Spans:
        """Return the lives as spans, built when first needed."""
        if self._spans is None:
            self._spans = Spans.of(self.y, *self._raw)
        return self._spans


@dataclass(frozen=True, slots=True)
class Spans:
    """The same lives without differences: lives from new, and late ones with log exit/entry."""

    new: Array
    new_weight: Array | None
    late: Array
    length: Array
    late_weight: Array | None

    @classmethod
    def of(cls, y: Array, stop: Array, entry: Array | None, weight: Array | None) -> Spans:
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


def _late_integrals(z: Spans, shape: float) -> Sums:
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


def moments(z: LogLives, shape: float) -> Sums:
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


def log_share(ages: Array, top: float) -> Array:
    """Return log(age / top), without loss when an age is within rounding of the top."""
    y = ages / top
    np.log(y, out=y)
    near = y > -1e-3
    y[near] = np.log1p((ages[near] - top) / top)
    return y


def prepare(entry: Array | None, stop: Array, weight: Array | None, top: float) -> LogLives:
    """Take logs of ages over `top`."""
    y = log_share(stop, top)
    if entry is None:
        return LogLives(y, weight, np.empty(0), None, (stop, None, weight))
    late = entry > 0.0
    if late.all():
        return LogLives(y, weight, log_share(entry, top), weight, (stop, entry, weight))
    return LogLives(
        y,
        weight,
        log_share(entry[late], top),
        None if weight is None else weight[late],
        (stop, entry, weight),
    )
