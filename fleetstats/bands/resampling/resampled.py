"""Limits by resampling, and the other methods that a study may ask for by name."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.bayes.posterior import fit_posterior, posterior_interval
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.contour import family_value
from fleetstats.bands.likelihood.profile import trim_edges
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.resampling.parametric import calibrated_interval, parametric_values
from fleetstats.bands.resampling.refit import Draws, refit_once
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.fit import Fit

LEAST_SHARE = 0.5
"""Share of resamples that must have a maximum for their quantiles to mean anything."""


def draw_quantity(draws: Draws, quantity: Quantity) -> Array:
    """Return (B,) values of a quantity over refits."""
    if quantity.kind == "life":
        return draws.life(quantity.p)
    if quantity.kind == "shape":
        return draws.shape
    if quantity.kind == "scale":
        return draws.scale_h
    if quantity.kind == "reliability":
        return np.asarray(draws.reliability(quantity.hours)[:, 0])
    if quantity.kind == "conditional":
        return np.asarray(draws.conditional_failure(quantity.hours, quantity.width_h)[:, 0])
    if draws.family == "weibull":
        b, t = draws.shape, quantity.hours
        with np.errstate(over="ignore"):
            return np.asarray(b / t * np.exp(b * np.log(t / draws.scale_h)))
    step = 1e-5 * quantity.hours
    ends = draws.cumulative_hazard([quantity.hours - step, quantity.hours + step])
    return np.asarray((ends[:, 1] - ends[:, 0]) / (2.0 * step))


def influence(fit: Fit, quantity: Quantity) -> Array:
    """Return (U,) first-order change of a quantity, per unit of weight on each engine.

    From the score of each engine and the curvature of the whole (Efron & Tibshirani 1993, section
    22.6); Weibull only.

    Raises
    ------
    BandError
        If the fit is not a Weibull.
    """
    if fit.family != "weibull":
        raise BandError(f"No influence is worked out for a {fit.family} fit.", "Use 'weights'.")
    spells = fit.spells
    ref, theta = spells.oldest_h, float(np.log(fit.shape))
    u = -fit.shape * float(np.log(fit.scale_h / ref))
    at = np.array([theta, u])

    def rows(z: Array) -> Array:
        return _row_values(spells, ref, float(z[0]), float(z[1]))

    h = 1e-4
    eye = np.eye(2) * h
    gradient = np.array([(rows(at + e) - rows(at - e)) / (2 * h) for e in eye])
    total = Surface.of_spells(spells)

    def whole(z: Array) -> float:
        return float(total.log_likelihood(z[:1], z[1:])[0])

    curve = np.array(
        [
            [
                (whole(at + e + f) - whole(at + e - f) - whole(at - e + f) + whole(at - e - f))
                / (4 * h * h)
                for f in eye
            ]
            for e in eye
        ]
    )

    def score(z: Array) -> float:
        return float(quantity.score(z[0], z[1], ref))

    slope = np.array([(score(at + e) - score(at - e)) / (2 * h) for e in eye])
    each = slope @ np.linalg.solve(-curve, gradient * spells.weight)
    unit = np.unique(spells.unit, return_inverse=True)[1].ravel()
    change = np.bincount(unit, weights=each)
    return -change if quantity.kind == "reliability" else change


def _row_values(spells: Spells, ref: float, theta: float, u: float) -> Array:
    b, c = np.exp(theta), np.exp(u)
    between = spells.interval_known
    stop = np.where(between, spells.exit_lower, spells.exit_upper)
    out = -c * ((stop / ref) ** b - (spells.entry / ref) ** b)
    exact = spells.failed & ~between
    out[exact] += u + theta + (b - 1.0) * np.log(spells.exit_upper[exact] / ref)
    gap = (spells.exit_upper[between] / ref) ** b - (spells.exit_lower[between] / ref) ** b
    out[between] += np.log(-np.expm1(-c * gap))
    return np.asarray(out)


def percentile_edges(values: Array, level: float) -> tuple[float, float]:
    """Return equal-tailed percentiles of draws."""
    tail = 0.5 * (1.0 - level)
    low, high = np.quantile(values, [tail, 1.0 - tail])
    return float(low), float(high)


def corrected_edges(
    values: Array, estimate: float, change: Array, level: float
) -> tuple[float, float]:
    """Return bias-corrected and accelerated percentiles of draws.

    Efron & Tibshirani 1993, equations 14.10 to 14.15, with the acceleration from influences.
    """
    from scipy.special import ndtr, ndtri

    share = (np.sum(values < estimate) + 0.5 * np.sum(values == estimate)) / len(values)
    z0 = float(ndtri(np.clip(share, 0.5 / len(values), 1.0 - 0.5 / len(values))))
    spread = float(np.sum(change**2)) ** 1.5
    a = float(np.sum(change**3)) / (6.0 * spread) if spread > 0 else 0.0
    z = ndtri(0.5 * (1.0 + np.array([-level, level])))
    p = ndtr(z0 + (z0 + z) / (1.0 - a * (z0 + z)))
    low, high = np.quantile(values, p)
    return float(low), float(high)


def band_resampled(
    fit: Fit,
    quantity: Quantity,
    *,
    level: float,
    method: str,
    n: int,
    seed: int,
    prior: ShapePrior,
) -> Interval:
    """Return limits by ``"weights"``, ``"weights-bca"``, ``"parametric"``, ``"calibrated-profile"``
    or ``"posterior"``.

    Raises
    ------
    BandError
        If the method is unknown or cannot serve this fit.
    """
    if method == "posterior":
        if fit.family != "weibull":
            raise BandError(f"No posterior is worked out for a {fit.family} fit.")
        return posterior_interval(fit_posterior(fit.spells, prior), quantity, level=level)
    if method == "calibrated-profile":
        return calibrated_interval(fit, quantity, level=level, n=n, seed=seed)
    estimate = float(family_value(fit.distribution, fit.estimate, quantity))
    if method == "parametric":
        values = parametric_values(fit, quantity, n, seed=seed)
    elif method in ("weights", "weights-bca"):
        draws = refit_once(fit.spells, n, seed=seed, family=fit.family).kept
        values = draw_quantity(draws, quantity)
    else:
        raise BandError(f"Method '{method}' is not known.")
    if len(values) < LEAST_SHARE * n:
        raise BandError(
            f"Only {len(values)} of {n} resamples have a maximum.", "Use 'shape-mixture'."
        )
    if method == "weights-bca":
        low, high = corrected_edges(values, estimate, influence(fit, quantity), level)
        name = "weights-bca"
    else:
        low, high = percentile_edges(values, level)
        name = "weights-percentile" if method == "weights" else method
    return trim_edges(quantity, estimate, low, high, fit.spells.oldest_h, level=level, method=name)
