"""Weights over log shape for many fleets at once: prior times likelihood, on one even grid."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.core.value import Array

SHAPES = 160
"""Shapes mixed; the trapezoid rule converges faster than any power of the step."""

ROUGH, ROUNDS = 200, 4
"""Shapes looked at first, and how often the grid is drawn anew around those that have weight."""

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


def _both(bare: Array, prior: ShapePrior, n_failed: Array, theta: Array) -> tuple[Array, Array]:
    """Return log weights without a default prior, and with it."""
    keeps = np.array(prior.stated) | (n_failed <= 0.0)
    full = bare + prior.log_density(theta, n_failed)
    return np.where(keeps[:, None], full, bare), full


def shapes_near(
    likelihood: Callable[[Array], Array],
    prior: ShapePrior,
    n_failed: Array,
    ends: tuple[float, float],
) -> Array:
    """Return `SHAPES` log shapes, evenly spaced, over all that have weight in any fleet.

    Each grid is drawn over what the one before has left. Of it is looked at what lies by the ends
    and the heaviest shapes of that one; at all of it, where one of these is found elsewhere.
    """
    low, high = ends
    zones = [(low, high)]
    for _ in range(ROUNDS):
        rough = np.linspace(low, high, ROUGH)
        for inside in (_within(rough, zones), np.ones(ROUGH, dtype=bool)):
            at = np.flatnonzero(inside)
            weights = _both(likelihood(rough[at]), prior, n_failed, rough[at])
            first, last, least, most = at[_marks(weights)].tolist()
            below, past = max(first - 1, 0), min(last + 1, ROUGH - 1)
            lighter = max(least - 1, 0), min(most + 1, ROUGH - 1)
            if inside[[below, past, *lighter]].all():
                break
        low, high = rough[below], rough[past]
        if (low, high) == (rough[0], rough[-1]):
            break
        zones = [(low, rough[first]), (rough[lighter[0]], rough[lighter[1]]), (rough[last], high)]
    return np.linspace(low, high, SHAPES)


def _within(rough: Array, zones: Iterable[tuple[float, float]]) -> Array:
    """Return which shapes of an even grid lie in some zones, or next to one."""
    inside = np.zeros(len(rough), dtype=bool)
    for start, stop in zones:
        i, j = np.searchsorted(rough, [start, stop])
        inside[max(i - 1, 0) : j + 2] = True
    return inside


def _marks(log_weights: tuple[Array, Array]) -> list[int]:
    """Return the first and last shape with weight in any fleet, and of the heaviest shapes."""
    best = [x.argmax(axis=1) for x in log_weights]
    seen = [(x - x.max(axis=1, keepdims=True) > FALL).any(axis=0) for x in log_weights]
    at = np.flatnonzero(seen[0] | seen[1])
    return [at[0], at[-1], min(i.min() for i in best), max(i.max() for i in best)]


def weigh_shapes(
    likelihood: Array, prior: ShapePrior, n_failed: Array, theta: Array
) -> tuple[Array, Array]:
    """Return (F, G) weights without a default prior, and weights, of evenly spaced log shapes.

    Where nothing failed, or the prior is stated, the two are the same.

    Parameters
    ----------
    likelihood : (F, G) float
        Logs, at `theta`.
    prior : ShapePrior
        On shape.
    n_failed : (F,) float
        Of each fleet.
    theta : (G,) float
        Log shapes.
    """
    free, full = _both(likelihood, prior, n_failed, theta)
    return _normal(free), _normal(full)
