"""Weights over log shape for many fleets at once: prior times likelihood, on one even grid."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.core.value import Array

SHAPES = 160
"""Shapes mixed; the trapezoid rule converges faster than any power of the step."""

FALL = -35.0
"""Log weight, against the heaviest shape's, beneath which the grid ends."""


def _normal(log_weight: Array) -> Array:
    with np.errstate(under="ignore"):
        w = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return np.asarray(w / w.sum(axis=1, keepdims=True))


def gamma_area(r: Array) -> Array:
    """Return logs of the area under a gamma of shape `r`, against its peak, on a log scale."""
    from scipy.special import gammaln

    return np.asarray(r + gammaln(r) - r * np.log(r))


def weigh_shapes(
    likelihood: Callable[[Array], Array],
    prior: ShapePrior,
    n_failed: Array,
    ends: tuple[float, float],
    theta: Array | None,
) -> tuple[Array, Array, Array]:
    """Return weights without a default prior, weights, and log shapes evenly spaced.

    Where nothing failed, or the prior is stated, the two weights are the same.
    """
    keeps = np.array(prior.stated) | (n_failed <= 0.0)

    def both(grid: Array) -> tuple[Array, Array]:
        bare = likelihood(grid)
        full = bare + prior.log_density(grid, n_failed)
        return np.where(keeps[:, None], full, bare), full

    if theta is None:
        low, high = ends
        for _ in range(4):
            rough = np.linspace(low, high, 200)
            seen = np.zeros(200, dtype=bool)
            for value in both(rough):
                seen |= (value - value.max(axis=1, keepdims=True) > FALL).any(axis=0)
            at = np.flatnonzero(seen)
            low, high = rough[max(at[0] - 1, 0)], rough[min(at[-1] + 1, 199)]
        theta = np.linspace(low, high, SHAPES)
    free, full = both(theta)
    return _normal(free), _normal(full), theta
