"""Refits of any family, and of failures between checks: Newton's method on a batch of draws.

Gradient and curvature come from central differences of the weighted log-likelihood, whose step is
so small a part of a standard error that what it leaves is beneath what resampling can see.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.likelihood.family_rows import UNBOUNDED, weighted_log_likelihood
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.families.families import fit_family
from fleetstats.survival.fit import Fit

CELLS = 1_000_000
"""Draws times rows evaluated at once; a dozen arrays of this size are alive."""

STEP_SD = 3e-3
"""Step of the differences in standard errors; the root moves by about its square."""

MAX_STEPS = 40
DONE_SD = 1e-5
FARTHEST_SD = 25.0
"""A draw this many standard errors from the fit has no maximum worth the name."""


def refit_by_newton(
    spells: Spells, plan: Resampling, family: str, blocks: range
) -> tuple[Array, Array]:
    """Return natural parameters (B, k) and whether each draw converged (B,), of some blocks.

    Raises
    ------
    NoMaximum
        If the spells themselves have no maximum.
    """
    fit = fit_family(spells, family)
    parts = [refit_draws(spells, family, plan.weights_of(b), fit) for b in blocks]
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def refit_draws(spells: Spells, family: str, weights: Array, fit: Fit) -> tuple[Array, Array]:
    """Return natural parameters (B, k) and convergence (B,) for weights (B, n), from a fit."""
    logged = np.array([name not in UNBOUNDED for name in fit.names])
    centre = np.where(logged, np.log(np.where(logged, fit.estimate, 1.0)), fit.estimate)
    jacobian = np.where(logged, 1.0 / fit.estimate, 1.0)
    sd = np.sqrt(np.diag(fit.covariance)) * jacobian
    estimate = np.full((len(weights), len(centre)), np.nan)
    done = np.zeros(len(weights), dtype=bool)
    step = max(1, CELLS // max(len(spells), 1))
    for i in range(0, len(weights), step):
        z, good = _newton(spells, family, weights[i : i + step], centre, sd, logged)
        at = slice(i, i + len(z))
        z[~good] = np.nan
        estimate[at] = np.where(logged, np.exp(np.where(logged, z, 0.0)), z)
        done[at] = good
    return estimate, done


def _newton(
    spells: Spells, family: str, weights: Array, centre: Array, sd: Array, logged: Array
) -> tuple[Array, Array]:
    k, b = len(centre), len(weights)

    def value(z: Array, w: Array) -> Array:
        with np.errstate(over="ignore"):
            natural = np.where(logged, np.exp(z), z)
        return weighted_log_likelihood(spells, family, natural.T, w)

    z = np.tile(centre, (b, 1))
    good = np.zeros(b, dtype=bool)
    left = np.arange(b)
    here = value(z, weights)
    h = STEP_SD * sd
    for _ in range(MAX_STEPS):
        w, at = weights[left], z[left]
        gradient = np.empty((len(left), k))
        curve = np.empty((len(left), k, k))
        for i in range(k):
            e = np.zeros(k)
            e[i] = h[i]
            up, down = value(at + e, w), value(at - e, w)
            gradient[:, i] = 0.5 * (up - down) / STEP_SD
            curve[:, i, i] = (up - 2.0 * here[left] + down) / STEP_SD**2
            for j in range(i):
                f = np.zeros(k)
                f[j] = h[j]
                cross = (value(at + e + f, w) - value(at + e - f, w)
                         - value(at - e + f, w) + value(at - e - f, w))  # fmt: skip
                curve[:, i, j] = curve[:, j, i] = 0.25 * cross / STEP_SD**2
        step = _ascent(gradient, curve)
        moved = np.zeros(len(left), dtype=bool)
        size = np.ones(len(left))
        for _ in range(6):
            new = at + (size[:, None] * step) * sd
            there = value(new, w)
            better = ~moved & (there >= here[left] - 1e-9 * np.abs(here[left]))
            z[left[better]] = new[better]
            here[left[better]] = there[better]
            moved |= better
            if moved.all():
                break
            size = np.where(moved, size, 0.4 * size)
        small = np.abs(step).max(axis=1) < DONE_SD
        good[left[small]] = True
        away = np.abs((z[left] - centre) / sd).max(axis=1) > FARTHEST_SD
        left = left[~small & moved & ~away]
        if not len(left):
            break
    return z, good


def _ascent(gradient: Array, curve: Array) -> Array:
    """Return Newton steps in standard errors; uphill and no longer than 3 where Newton fails."""
    values, vectors = np.linalg.eigh(np.nan_to_num(curve, nan=-1.0, posinf=-1.0, neginf=-1.0))
    bent = np.where(values < -1e-3, values, -np.maximum(np.abs(values), 0.3))
    along = np.einsum("bji,bj->bi", vectors, np.nan_to_num(gradient))
    step = np.einsum("bij,bj->bi", vectors, -along / bent)
    long = np.abs(step).max(axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, 3.0 / np.maximum(long, 1e-12)))
