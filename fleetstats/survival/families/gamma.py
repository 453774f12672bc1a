"""The gamma family's likelihood; its derivative in shape has no closed form."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival.ascent import Likelihood
from fleetstats.survival.distribution import log_upper_gamma
from fleetstats.survival.families.location_scale import narrow_to_exact
from fleetstats.survival.weibull.weibull_general import log_failed

STEP = 0.02
"""Widest step of the differences in (log shape, log mean); see `_derivatives`."""


def gamma_likelihood(spells: Spells) -> tuple[Likelihood, float]:
    """Return the log likelihood in (shape, log mean in units of the oldest age), and that unit."""
    from scipy.special import gammaln

    spells, log_width = narrow_to_exact(spells)
    unit = spells.oldest_h
    w, between = spells.weight, spells.interval_known
    exact = spells.failed & ~between
    survived = spells.exit_lower > spells.entry
    w_exact, x_exact = w[exact], spells.exit_upper[exact] / unit
    r, sum_x, sum_log = w_exact.sum(), w_exact @ x_exact, w_exact @ np.log(x_exact)
    ages = np.concatenate(
        [
            spells.exit_upper[exact],
            spells.exit_lower[survived],
            spells.entry[survived],
            spells.exit_lower[between],
            spells.exit_upper[between],
        ]
    )
    parts = np.cumsum([exact.sum(), survived.sum(), survived.sum(), between.sum()])
    known, place = np.unique(ages / unit, return_inverse=True)

    def value(log_shape: float, log_mean: float) -> float:
        if abs(log_mean) + abs(log_shape) > 600.0:
            return -math.inf
        k = math.exp(log_shape)
        scale = math.exp(log_mean - log_shape)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            log_s = np.where(known > 0.0, log_upper_gamma(k, known / scale), 0.0)
            dead, stop, begin, lower, upper = np.split(log_s[place.ravel()], parts)
            density = (
                (k - 1.0) * sum_log
                - sum_x / scale
                - r * (float(gammaln(k)) + k * math.log(scale) + math.log(unit))
            )
            # The exact failures' own survival is within their density; take it out of `survived`.
            total = density - w_exact @ dead + w[survived] @ (stop - begin) + log_width
            total += w[between] @ log_failed(lower - upper)
        return float(total) if math.isfinite(total) else -math.inf

    def likelihood(shape: float, level: float) -> tuple[float, Array, Array]:
        theta = math.log(shape)
        with np.errstate(invalid="ignore"):
            f0, g, h = _derivatives(value, theta, level)
        grad = np.array([g[0] / shape, g[1]])
        cross = h[0, 1] / shape
        hess = np.array([[(h[0, 0] - g[0]) / shape**2, cross], [cross, h[1, 1]]])
        return f0, grad, hess

    return likelihood, unit


def _derivatives(
    f: Callable[[float, float], float], a: float, b: float
) -> tuple[float, Array, Array]:
    """Return value, gradient and Hessian by central differences, thrice extrapolated to step 0.

    Richardson (1911): errors in even powers of the step fall to its eighth power.
    """
    f0 = f(a, b)
    rows = []
    for h in (STEP, STEP / 2, STEP / 4):
        pa, ma, pb, mb = f(a + h, b), f(a - h, b), f(a, b + h), f(a, b - h)
        pp, mm = f(a + h, b + h), f(a - h, b - h)
        rows.append(
            (
                (pa - ma) / (2 * h),
                (pb - mb) / (2 * h),
                (pa - 2 * f0 + ma) / h**2,
                (pb - 2 * f0 + mb) / h**2,
                (pp + mm - pa - ma - pb - mb + 2 * f0) / (2 * h**2),
            )
        )
    t = np.array(rows)
    first = (4 * t[1:] - t[:-1]) / 3
    ga, gb, aa, bb, ab = (16 * first[1] - first[0]) / 15
    return f0, np.array([ga, gb]), np.array([[aa, ab], [ab, bb]])
