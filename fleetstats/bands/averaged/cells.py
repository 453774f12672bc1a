"""Lives counted into cells of age: all that the evidence for a curve is worked out from.

Within a cell the hazard is taken as constant, so failures in it are a Poisson count whose mean is
hazard times hours (Holford 1980; Laird & Olivier 1981): one candidate curve then costs as much as
there are cells, however many lives there are.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

CELLS = 64
"""Cells up to the oldest age asked; near it one is 2.3 % of that age wide."""

LEVEL_SHAPE = 2.0
"""Shape of the Weibull by which the level of the hazard is guessed before any law is fitted."""


@value
class AgeCells(Value):
    """Failures and hours by age, and failures between checks by the edges they lie between.

    Parameters
    ----------
    edge_h : (G + 1,) float
        Edges of the cells in hours, from 0 on.
    failures : (G,) float
        Failures whose age is known to within a cell.
    exposure_h : (G,) float
        Hours at risk.
    first, last : (P,) int
        Edges between which other failures came.
    between : (P,) float
        How many came between each pair.
    reference_h : float
        Age in hours at which laws are given their level.
    level : float
        Guess of the log cumulative hazard there.
    """

    edge_h: Array
    failures: Array
    exposure_h: Array
    first: Array
    last: Array
    between: Array
    reference_h: float
    level: float

    @classmethod
    def of(cls, spells: Spells, top_h: float) -> AgeCells:
        """Count the lives into cells that reach to `top_h` hours or to the oldest life."""
        top = max(top_h, spells.oldest_h)
        edge = top * (np.arange(CELLS + 1) / CELLS) ** 1.5
        weight = spells.weight
        gone = _watched(spells.exit_lower, weight, edge) - _watched(spells.entry, weight, edge)
        exposure = np.maximum(np.diff(gone), 0.0)
        failed = spells.failed
        low, high, w = (x[failed] for x in (spells.exit_lower, spells.exit_upper, weight))
        a, z = _nearest(edge, low), _nearest(edge, high)
        exact = (a == z) | (low == high)
        cell = np.clip(np.searchsorted(edge, 0.5 * (low + high)[exact], side="left") - 1, 0, None)
        failures = np.bincount(cell, weights=w[exact], minlength=CELLS)
        pairs, of = np.unique(np.stack([a, z])[:, ~exact], axis=1, return_inverse=True)
        between = np.bincount(of.ravel(), weights=w[~exact], minlength=pairs.shape[1])
        total = np.cumsum(exposure)
        reference = float(np.interp(0.8 * total[-1], total, edge[1:]))
        power = (edge / reference) ** LEVEL_SHAPE
        units = float((exposure * np.diff(power) / np.diff(edge)).sum())
        return cls(
            edge_h=edge,
            failures=failures,
            exposure_h=exposure,
            first=pairs[0],
            last=pairs[1],
            between=between,
            reference_h=reference,
            level=float(np.log((spells.n_failed + 0.5) / max(units, 1e-300))),
        )

    def log_likelihood(self, hazard: Array) -> Array:
        """Return (N,) log likelihoods of cumulative hazards (N, G + 1) at the edges."""
        width = np.diff(self.edge_h)
        rise = np.maximum(np.diff(hazard, axis=1), 1e-300)
        out = -(rise @ (self.exposure_h / width))
        seen = self.failures > 0.0
        if seen.any():
            out += np.log(rise[:, seen] / width[seen]) @ self.failures[seen]
        if len(self.between):
            gap = np.maximum(hazard[:, self.last] - hazard[:, self.first], 1e-300)
            out += np.log(-np.expm1(-gap)) @ self.between
        return np.asarray(out)


def _watched(hours: Array, weight: Array, edge: Array) -> Array:
    """Return (G + 1,) sums of the weights times the lesser of hours and edge."""
    order = np.argsort(hours, kind="stable")
    t, w = hours[order], weight[order]
    below = np.concatenate([[0.0], np.cumsum(w * t)])
    count = np.concatenate([[0.0], np.cumsum(w)])
    k = np.searchsorted(t, edge, side="right")
    return np.asarray(below[k] + edge * (count[-1] - count[k]))


def _nearest(edge: Array, hours: Array) -> Array:
    k = np.clip(np.searchsorted(edge, hours), 1, len(edge) - 1)
    return np.where(hours - edge[k - 1] <= edge[k] - hours, k - 1, k)
