"""Log-likelihoods of any family for a batch of parameters at once: draws, or directions walked."""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.distribution import DISTRIBUTIONS

UNBOUNDED = ("mu", "location_h")
"""Parameters that may be negative; all others are taken in logs."""


def broadcast_hazard_sum(family: str, hours: Array, natural: Array) -> Array:
    """Return cumulative hazards for hours (1, m) and natural parameters (k, B, 1)."""
    with np.errstate(divide="ignore", over="ignore"):
        if family == "gamma":
            from scipy.special import gammaincc

            return np.asarray(-np.log(gammaincc(natural[0], hours / natural[1])))
        if family == "exponential":
            return np.asarray(hours / natural[0])
        return np.asarray(DISTRIBUTIONS[family].cumulative_hazard(hours, natural))


def weighted_log_likelihood(
    spells: Spells, family: str, natural: Array, weights: Array | None = None
) -> Array:
    """Return (B,) log-likelihoods of natural parameters (k, B).

    Full densities on hours, delayed entry divided out. `weights` (B, n) replace the spells' own. A
    smallest extreme value may lie below 0, but an entry at 0 means followed from the start.
    """
    w = spells.weight[None, :] if weights is None else weights
    p = natural[:, :, None]
    exact = spells.failed & ~spells.interval_known
    between = spells.interval_known
    with np.errstate(all="ignore"):
        start = np.zeros((natural.shape[1], len(spells)))
        late = spells.entry > 0.0
        if late.any():
            start[:, late] = broadcast_hazard_sum(family, spells.entry[late][None, :], p)
        end = broadcast_hazard_sum(family, spells.exit_upper[None, :], p)
        rows = start - end
        if exact.any():
            t = spells.exit_upper[exact][None, :]
            rows[:, exact] += _log_hazard(family, t, p, end[:, exact])
        if between.any():
            low = spells.exit_lower[between]
            at_low = np.zeros((natural.shape[1], len(low)))
            known = low > 0.0
            at_low[:, known] = broadcast_hazard_sum(family, low[known][None, :], p)
            gap = end[:, between] - at_low
            rows[:, between] = start[:, between] - at_low + np.log(-np.expm1(-gap))
        total = np.where(w > 0.0, w * rows, 0.0).sum(axis=1)
    return np.where(np.isnan(total), -np.inf, total)


def _log_hazard(family: str, hours: Array, natural: Array, hazard_sum: Array) -> Array:
    if family == "gamma":
        from scipy.special import gammaln

        x = hours / natural[1]
        density = (natural[0] - 1.0) * np.log(x) - x - gammaln(natural[0]) - np.log(natural[1])
        return np.asarray(density + hazard_sum)
    if family == "exponential":
        return np.asarray(-np.log(natural[0]) + 0.0 * hours)
    return np.asarray(DISTRIBUTIONS[family].log_hazard(hours, natural))
