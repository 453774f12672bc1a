"""Exact limits and goodness of fit of the power-law process, free of its parameters."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.seeds import stream
from fleetstats.core.value import Array

FIT_DRAWS = 4000
"""Simulated histories behind the p-value of the goodness of fit; its error is under 0.008."""

_CELLS = 2_000_000


def exact_shape(s: float, m: int, level: float) -> tuple[float, float]:
    """Return limits of the shape: ``2 shape s ~ chi-square(2m)``, s the sum of log(T/t)."""
    from scipy import special

    tail = 0.5 * (1.0 - level)
    return (
        float(special.gammaincinv(m, tail)) / s,
        float(special.gammainccinv(m, tail)) / s,
    )


def exact_mtbf(
    s: float, n: int, top: float, systems: int, level: float, terminated: str, common: bool
) -> tuple[float | None, float | None]:
    """Exact limits of a system's mean hours between events at the common end of the watch."""
    tail = 0.5 * (1.0 - level)
    if terminated == "time" and common:
        # u = systems * lam * shape * T**shape; the law of n given s is (u s)^n / n! (n-1)!.
        low_u = _solve_count(lambda u: _bessel_tail(n, u, s, upper=True) - tail, n / s)
        high_u = _solve_count(lambda u: tail - _bessel_tail(n, u, s, upper=False), n / s)
        return (
            None if high_u is None else top * systems / high_u,
            None if low_u is None else top * systems / low_u,
        )
    if terminated == "failure" and systems == 1 and n >= 2:
        estimate = top * s / n**2  # T / (n * shape), shape = n / s
        low = _gamma_product_quantile(n, n - 1, tail)
        high = _gamma_product_quantile(n, n - 1, 1.0 - tail)
        return estimate * n**2 / high, estimate * n**2 / low
    return None, None


def _bessel_tail(n: int, u: float, s: float, *, upper: bool) -> float:
    """P(N >= n) or P(N <= n) under f(k) proportional to (u s)^k / (k! (k-1)!), k = 1, 2, ..."""
    from scipy import special

    x = u * s
    k = np.arange(1, int(n + 4.0 * np.sqrt(x) + 60.0 + 10.0 * x**0.25))
    logs = k * np.log(x) - special.gammaln(k + 1.0) - special.gammaln(k)
    p = np.exp(logs - logs.max())
    p /= p.sum()
    return float(p[k >= n].sum() if upper else p[k <= n].sum())


def _solve_count(rising: Callable[[float], float], start: float) -> float | None:
    from scipy import optimize

    low, high = start, start
    while rising(low) > 0.0:
        low /= 2.0
        if low < start * 1e-9:
            return None
    while rising(high) < 0.0:
        high *= 2.0
    return float(optimize.brentq(rising, low, high, rtol=1e-12))


def _gamma_product_quantile(a: int, b: int, p: float) -> float:
    """Quantile of the product of two independent gamma variables with shapes `a` and `b`."""
    from scipy import optimize, special

    nodes, weights = np.polynomial.legendre.leggauss(200)
    u = 0.5 * (nodes + 1.0)
    g = special.gammaincinv(a, u)

    def cdf(x: float) -> float:
        return float((0.5 * weights * special.gammainc(b, np.exp(x) / g)).sum())

    mid = float(np.log(a * b))
    found = optimize.brentq(lambda x: cdf(x) - p, mid - 30.0, mid + 10.0, xtol=1e-12)
    return float(np.exp(found))


def cramer_von_mises(ratio: Array) -> Array:
    """Cramer-von Mises statistics of sorted t/T (rows), with the unbiased shape."""
    m = ratio.shape[1]
    shape = (m - 1) / -np.log(ratio).sum(axis=1, keepdims=True)
    middle = (2.0 * np.arange(1, m + 1) - 1.0) / (2.0 * m)
    return np.asarray(1.0 / (12.0 * m) + np.square(ratio**shape - middle).sum(axis=1))


def simulated_p(statistic: float, m: int, seed: int) -> float:
    """Share of simulated power-law histories that fit worse; free of shape and scale."""
    draws = max(200, min(FIT_DRAWS, _CELLS // m))
    rng = stream(seed, "power-law fit", m)
    worse = cramer_von_mises(np.sort(rng.random((draws, m)), axis=1)) >= statistic
    return (1.0 + float(worse.sum())) / (draws + 1.0)
