"""What a quoted lower edge may not pass: the estimate and the upper edge beside it."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.bayes.mixture import MIDDLE, ShapeMixture
from fleetstats.bands.method import FEW
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array
from fleetstats.survival.fit import Fit

SURELY = 1e-6
"""Probability by which an edge that is not sought must lie beyond what is asked of it."""


def surely_above(
    mixed: ShapeMixture,
    quantity: Quantity,
    low: float,
    *,
    probability: float = 0.5,
    added: float = MIDDLE,
    margin: float | Array = SURELY,
) -> Array:
    """Return (F,) whether the bound of a life or a reliability surely lies at or above `low`.

    `probability` and `added` as of `ShapeMixture.bound`; `margin` is what the mixtures may be wrong
    by in a probability. Where the median does so does every upper
    edge: with fewer failures added less lies below it.
    """
    if low <= 0.0:
        return np.ones(len(mixed.weight), dtype=np.bool_)
    if not np.isfinite(low) or (quantity.kind == "reliability" and low >= 1.0):
        return np.zeros(len(mixed.weight), dtype=np.bool_)
    below = mixed.below(quantity, np.full(len(mixed.weight), low), added=added)
    return np.asarray(below <= probability - margin)


def estimate_beside(
    fit: Fit | None, n_failed: float, quantity: Quantity, reference_h: float
) -> float | None:
    """Return the estimate that a fit sets beside the edges of a mixture; None if it has its own."""
    if fit is None or fit.family != "weibull" or n_failed < FEW:
        return None
    u = -fit.shape * float(np.log(fit.scale_h / reference_h))
    return float(quantity.value(float(np.log(fit.shape)), u, reference_h))
