"""Laws of one life, each told by its cumulative hazard at a ratio of an age, and equal at ratio 1.

A law takes ratios x (age over the age in question), the cumulative hazard wanted at x = 1, and the
shape of the Weibull that it stands beside. Sources: Lawless 2003, chapter 1 (the families); Meeker,
Escobar & Pascual 2021, section 5.6 (mixtures and competing modes). How strongly each departs from
the Weibull is our own choice, named below.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array

Law = Callable[[Array, float, float], Array]

WEAK_PART = 0.5
"""Part of the failures by the age in question that the weak engines have."""

WEAK_FAILED = 0.95
"""Share of the weak engines that have failed by then."""

EARLY_SHAPE, LATE_SHAPE = 0.5, 5.0
"""Shapes of the two modes of a bathtub; each has half of the cumulative hazard at the age asked."""

STEPS = 4001
LOG_LOW, LOG_HIGH = -18.0, 12.0
"""Logs of the ratios between which a law is inverted; a life past them is put at the end."""


def weibull(x: Array, hazard: float, shape: float) -> Array:
    """Return the Weibull's cumulative hazard."""
    return np.asarray(hazard * x**shape)


def lognormal(x: Array, hazard: float, shape: float) -> Array:
    """Return the lognormal's, whose log life has the spread of the Weibull's of that shape."""
    from scipy.special import log_ndtr, ndtri

    # sd of the log of a Weibull life: pi / (sqrt(6) shape)
    sigma = np.pi / (np.sqrt(6.0) * shape)
    middle = -sigma * float(ndtri(-np.expm1(-hazard)))
    with np.errstate(divide="ignore"):
        return np.asarray(-log_ndtr(-(np.log(x) - middle) / sigma))


def log_logistic(x: Array, hazard: float, shape: float) -> Array:
    """Return the log-logistic's with that shape: odds of failure rise as a power of age."""
    return np.asarray(np.log1p(np.expm1(hazard) * x**shape))


def weak_share(x: Array, hazard: float, shape: float) -> Array:
    """Return that of a mixture: a weak share that has half of the failures, nearly all by then."""
    p = -np.expm1(-hazard)
    share = WEAK_PART * p / WEAK_FAILED
    rest = -np.log1p(-(1.0 - WEAK_PART) * p / (1.0 - share))
    weak = -np.log1p(-WEAK_FAILED) * x**shape
    logs = np.logaddexp(np.log(share) - weak, np.log1p(-share) - rest * x**shape)
    return np.asarray(-logs)


def bathtub(x: Array, hazard: float, shape: float) -> Array:
    """Return that of two Weibulls in competition, one falling and one that wears out late."""
    del shape
    return np.asarray(0.5 * hazard * (x**EARLY_SHAPE + x**LATE_SHAPE))


def ages_at(law: Law, wanted: Array, hazard: float, shape: float) -> Array:
    """Return ratios (n,) at which a law's cumulative hazard reaches `wanted` (n,).

    By linear interpolation of the logs on a fine grid, exact for a Weibull.
    """
    log_x = np.linspace(LOG_LOW, LOG_HIGH, STEPS)
    with np.errstate(divide="ignore", under="ignore", over="ignore"):
        log_h = np.log(np.maximum(law(np.exp(log_x), hazard, shape), 1e-300))
        log_h = np.maximum.accumulate(log_h)
        return np.asarray(np.exp(np.interp(np.log(wanted), log_h, log_x)))
