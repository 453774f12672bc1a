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
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    middle = total - 0.5 * weight[order]
    tail = (1.0 - level) / 2.0
    low, high = np.interp([tail, 1.0 - tail], middle, values[order])
    return float(low), float(high)


def chi_square_cut(level: float) -> float:
    """Return the fall in twice the log-likelihood that marks a two-sided `level`."""
    from scipy.special import chdtri

    return float(chdtri(1, 1.0 - level))


def lowest_by_mean(mean_h: Array, deviance: Array) -> tuple[Array, Array]:
    """Least deviance over the delay's shapes at each mean, means rising."""
    means = np.unique(mean_h)
    return np.array([deviance[mean_h == m].min() for m in means]), means


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
