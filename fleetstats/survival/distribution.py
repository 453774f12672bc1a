"""The life distributions: cumulative hazard, hazard and quantile of each, in hours.

Formulas as in Lawless (2003), *Statistical Models and Methods for Lifetime Data*, section 1.3, and
Meeker, Escobar & Pascual (2021), *Statistical Methods for Reliability Data*, chapter 4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Distribution:
    """One family of lives.

    `cumulative_hazard` and `log_hazard` take hours (m,) and the natural parameters (k,); `quantile`
    takes probabilities of failure (m,) and the parameters, and returns hours. `title` is the name
    in a sentence. `below_zero` tells whether the law lays some of its lives below 0 h, so that its
    curves may be asked there.
    """

    family: str
    title: str
    names: tuple[str, ...]
    cumulative_hazard: Callable[[Array, Array], Array]
    log_hazard: Callable[[Array, Array], Array]
    quantile: Callable[[Array, Array], Array]
    below_zero: bool = False


def _log(t: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(t))


def _weibull_hazard_sum(t: Array, p: Array) -> Array:
    with np.errstate(over="ignore"):
        return np.asarray(np.exp(p[0] * (_log(t) - np.log(p[1]))))


def _weibull_log_hazard(t: Array, p: Array) -> Array:
    with np.errstate(invalid="ignore"):
        z = (p[0] - 1.0) * (_log(t) - np.log(p[1]))
    # At age 0 and shape 1 the product 0 * -inf stands for a constant hazard.
    return np.asarray(np.log(p[0]) - np.log(p[1]) + np.where(np.isnan(z), 0.0, z))


def _weibull_quantile(q: Array, p: Array) -> Array:
    return np.asarray(p[1] * np.exp(_log(-np.log1p(-q)) / p[0]))


def _exponential(p: Array) -> Array:
    return np.array([1.0, p[0]])


def _standard_normal(t: Array, p: Array) -> tuple[Array, Array]:
    from scipy.special import log_ndtr

    z = (_log(t) - p[0]) / p[1]
    return z, np.asarray(log_ndtr(-z))


def _lognormal_hazard_sum(t: Array, p: Array) -> Array:
    return np.asarray(-_standard_normal(t, p)[1])


def _lognormal_log_hazard(t: Array, p: Array) -> Array:
    z, log_s = _standard_normal(t, p)
    with np.errstate(invalid="ignore"):
        out = -0.5 * z * z - 0.5 * np.log(2 * np.pi) - np.log(p[1]) - _log(t) - log_s
    return np.where(np.isneginf(z), -np.inf, out)


def _lognormal_quantile(q: Array, p: Array) -> Array:
    from scipy.special import ndtri

    return np.asarray(np.exp(p[0] + p[1] * ndtri(q)))


def _loglogistic_hazard_sum(t: Array, p: Array) -> Array:
    return np.asarray(np.logaddexp(0.0, p[1] * (_log(t) - np.log(p[0]))))


def _loglogistic_log_hazard(t: Array, p: Array) -> Array:
    log_h = _weibull_log_hazard(t, np.array([p[1], p[0]]))
    return np.asarray(log_h - _loglogistic_hazard_sum(t, p))


def _loglogistic_quantile(q: Array, p: Array) -> Array:
    return np.asarray(p[0] * np.exp((_log(q) - np.log1p(-q)) / p[1]))


def log_upper_gamma(shape: float, x: Array) -> Array:
    """Return log of the regularised upper incomplete gamma function, also where it underflows.

    Far in the tail Legendre's continued fraction is used (Abramowitz & Stegun 1964, 6.5.31).
    """
    from scipy.special import gammaincc, gammaln

    x = np.asarray(x, dtype=np.float64)
    with np.errstate(divide="ignore"):
        out = np.asarray(np.log(gammaincc(shape, x)))
    far = (out < -600.0) & np.isfinite(x)
    if far.any():
        v = x[far]
        fraction = np.zeros_like(v)
        for k in range(60, 0, -1):
            fraction = k * (shape - k) / (v + 2 * k + 1 - shape + fraction)
        out[far] = shape * np.log(v) - v - gammaln(shape) - np.log(v + 1 - shape + fraction)
    return out


def _gamma_hazard_sum(t: Array, p: Array) -> Array:
    return np.asarray(-log_upper_gamma(float(p[0]), np.atleast_1d(t) / p[1]).reshape(np.shape(t)))


def _gamma_log_hazard(t: Array, p: Array) -> Array:
    from scipy.special import gammaln

    with np.errstate(invalid="ignore"):
        power = (p[0] - 1.0) * (_log(t) - np.log(p[1]))
    power = np.where(np.isnan(power), 0.0, power)
    return np.asarray(power - t / p[1] - gammaln(p[0]) - np.log(p[1]) + _gamma_hazard_sum(t, p))


def _gamma_quantile(q: Array, p: Array) -> Array:
    from scipy.special import gammaincinv

    return np.asarray(p[1] * gammaincinv(p[0], q))


def _extreme_hazard_sum(t: Array, p: Array) -> Array:
    with np.errstate(over="ignore"):
        return np.asarray(np.exp((t - p[0]) / p[1]))


def _extreme_log_hazard(t: Array, p: Array) -> Array:
    return np.asarray((t - p[0]) / p[1] - np.log(p[1]))


def _extreme_quantile(q: Array, p: Array) -> Array:
    return np.asarray(p[0] + p[1] * _log(-np.log1p(-q)))


DISTRIBUTIONS = {
    d.family: d
    for d in (
        Distribution(
            family="weibull",
            title="Weibull",
            names=("shape", "scale_h"),
            cumulative_hazard=_weibull_hazard_sum,
            log_hazard=_weibull_log_hazard,
            quantile=_weibull_quantile,
        ),
        Distribution(
            family="exponential",
            title="exponential",
            names=("scale_h",),
            cumulative_hazard=lambda t, p: _weibull_hazard_sum(t, _exponential(p)),
            log_hazard=lambda t, p: _weibull_log_hazard(t, _exponential(p)),
            quantile=lambda q, p: _weibull_quantile(q, _exponential(p)),
        ),
        Distribution(
            family="lognormal",
            title="lognormal",
            names=("mu", "sigma"),
            cumulative_hazard=_lognormal_hazard_sum,
            log_hazard=_lognormal_log_hazard,
            quantile=_lognormal_quantile,
        ),
        Distribution(
            family="loglogistic",
            title="log-logistic",
            names=("scale_h", "shape"),
            cumulative_hazard=_loglogistic_hazard_sum,
            log_hazard=_loglogistic_log_hazard,
            quantile=_loglogistic_quantile,
        ),
        Distribution(
            family="gamma",
            title="gamma",
            names=("shape", "scale_h"),
            cumulative_hazard=_gamma_hazard_sum,
            log_hazard=_gamma_log_hazard,
            quantile=_gamma_quantile,
        ),
        Distribution(
            family="smallest-extreme-value",
            title="smallest extreme value",
            names=("location_h", "scale_h"),
            cumulative_hazard=_extreme_hazard_sum,
            log_hazard=_extreme_log_hazard,
            quantile=_extreme_quantile,
            below_zero=True,
        ),
    )
}
"""Every family by its name. mu and sigma of the lognormal are of log hours."""
