"""Limits for the delay-time fit: exact shares, falls of a likelihood, crossings of a profile."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.value import Array


def exact_share(r: int, n: int, level: float) -> tuple[float, float]:
    """Exact two-sided limits of a share, r of n (Clopper & Pearson 1934)."""
    from scipy.special import betaincinv

    tail = (1.0 - level) / 2.0
    low = float(betaincinv(r, n - r + 1, tail)) if r else 0.0
    high = float(betaincinv(r + 1, n - r, 1.0 - tail)) if r < n else 1.0
    return low, high


def binomial_fall(r: int, n: int, p: float) -> float:
    """Return twice the fall of the binomial log-likelihood from r / n to p."""
    out = 0.0
    if r:
        out += r * math.log(r / n / p)
    if r < n:
        out += (n - r) * math.log((1.0 - r / n) / (1.0 - p))
    return 2.0 * out


def weighted_quantiles(values: Array, weight: Array, level: float) -> tuple[float, float]:
    """Two quantiles of weighted values, read between the middles of their shares."""
    values, place = np.unique(values, return_inverse=True)
    weight = np.bincount(place.ravel(), weights=weight)
    middle = np.cumsum(weight) - 0.5 * weight
    tail = (1.0 - level) / 2.0
    low, high = np.interp([tail, 1.0 - tail], middle, values)
    return float(low), float(high)


def chi_square_cut(level: float) -> float:
    """Return the fall in twice the log-likelihood that marks a two-sided `level`."""
    from scipy.special import chdtri

    return float(chdtri(1, 1.0 - level))


PARTS = 8
"""Parts into which a gap of the profile's grid is cut."""


def refine(mean_h: Array, deviance: Array, *columns: Array) -> tuple[Array, ...]:
    """Fill the gaps of one profile: means, deviances and other columns, means rising.

    A deviance is near a parabola in log hours, so its signed root about the lowest point is near a
    line; a straight line through the deviance itself would lie above it and cut limits short. The
    other columns run straight in log hours. An infinite mean is kept as it stands.
    """
    finite = np.isfinite(mean_h)
    x, d = np.log(mean_h[finite]), deviance[finite]
    if len(x) < 2:
        return mean_h, deviance, *columns
    low = int(np.argmin(d))
    root = np.sqrt(np.maximum(d - d[low], 0.0)) * np.where(np.arange(len(x)) < low, -1.0, 1.0)
    place = np.linspace(0.0, len(x) - 1.0, (len(x) - 1) * PARTS + 1)
    at = np.arange(len(x), dtype=np.float64)

    def fill(values: Array) -> Array:
        return np.asarray(np.interp(place, at, values))

    out = (np.exp(fill(x)), d[low] + fill(root) ** 2, *(fill(c[finite]) for c in columns))
    far = (mean_h[~finite], deviance[~finite], *(c[~finite] for c in columns))
    return tuple(np.concatenate([a, b]) for a, b in zip(out, far, strict=True))


def crossings(means: Array, deviance: Array, limit: float) -> tuple[float | None, float | None]:
    """Return where the deviance crosses `limit` on either side; None where it does not."""
    inside = np.flatnonzero(deviance <= limit)
    a, b = int(inside[0]), int(inside[-1])

    def between(i: int, j: int) -> float:
        w = (limit - deviance[i]) / (deviance[j] - deviance[i])
        return math.exp((1 - w) * math.log(means[i]) + w * math.log(means[j]))

    low = between(a, a - 1) if a > 0 else None
    ends = b + 1 >= len(means) or math.isinf(means[b]) or math.isinf(means[b + 1])
    return low, None if ends else between(b, b + 1)
