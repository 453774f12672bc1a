"""The profile at many warning times at once: one surface of the arrival of faults for all of them.

What depends on the arrival of faults is the same for every law of the warning time. So it is laid
out once, at a few arrivals about the best one; for each law the log-likelihood there is a weighted
sum, and a parabola through it gives the refitted arrival, its error and the height. The parabola is
drawn in the cube root of expected faults, in which the log-likelihood of a count has no third
derivative (from memory), and the log of the power of age. Tests hold it to the exact refit.
"""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.delay.delay import CLEAN, FAILED
from fleetstats.survival.delay.delay_likelihood import (
    Prepared,
    Terms,
    at_end_of,
    delay_part,
    log_likelihood,
    onset_density,
    stay_of,
)
from fleetstats.survival.delay.delay_profile import DelayPrior, Row, arrival_spread, rate_at

if TYPE_CHECKING:
    from scipy.sparse import csr_array

WIDE = 1.5
"""Standard errors from the best arrival to the outer points of the surface."""
LOWEST = 40.0
"""Log-likelihoods this far below the best are ruled out, and no top is sought."""
FARTHEST = 4.0
"""Standard errors beyond which a refitted arrival is not followed: its height is far down."""


class ArrivalSurface:
    """Arrivals about the best one, with all that the laws of the warning time share.

    Parameters
    ----------
    pre : Prepared
    best : Row
        The exact refit at a warning time near the best.
    spread : (free, free) float
        Covariance of log faults and, with arrival as a power of age, of its log power.
    at_h : float or None
    """

    def __init__(self, pre: Prepared, best: Row, spread: Array, at_h: float | None) -> None:
        self.pre, self.best, self.at_h = pre, best, at_h
        self.free = len(spread)
        error = np.minimum(np.sqrt(np.diag(spread)), 1.0)
        root = math.exp(best[3] / 3.0)
        self.centre = np.array([root, math.log(best[5])])[: self.free]
        self.step = np.array([root / 3.0, 1.0])[: self.free] * error
        marks = np.array(list(product((-WIDE, 0.0, WIDE), repeat=self.free)))
        self.marks = marks
        at = self.centre + marks * self.step
        log_faults = 3.0 * np.log(np.maximum(at[:, 0], 0.02 * root))
        log_power = at[:, 1] if self.free == 2 else np.zeros(len(at))
        arrivals = list(zip(log_faults, log_power, strict=True))
        self.onset = np.array([onset_density(pre.ends, *x) for x in arrivals]).T
        self.stay = np.array([stay_of(pre.ends, *x)[0] for x in arrivals]).T
        self.now = np.array([at_end_of(pre.ends, *x)[0] for x in arrivals]).T
        if pre.entries.n:
            self.entry_onset = np.array([onset_density(pre.entries, *x) for x in arrivals]).T
            self.entry_stay = np.array([stay_of(pre.entries, *x)[0] for x in arrivals]).T
        self.solve = np.linalg.pinv(_powers(marks))
        self._ends, self._entries = _by_life(pre.ends), _by_life(pre.entries)

    def rows(
        self, mean_h: float, shape: float, detection: float, no_warning: Array,
        prior: DelayPrior | None,
    ) -> list[Row]:  # fmt: skip
        """Return the profile at one warning time, for each share (v,) without warning."""
        value = self._heights(mean_h, shape, detection, no_warning)
        if prior is not None:
            value = value + prior.log_density(mean_h)
        near = np.isfinite(value).all(axis=1) & (self.best[2] - value.max(axis=1) < LOWEST)
        return self._tops(mean_h, shape, no_warning[near], value[near])

    def _heights(self, mean_h: float, shape: float, detection: float, v: Array) -> Array:
        """Log-likelihood (v, points) at every arrival of the surface."""
        pre, kind = self.pre, self.pre.lives.ending
        part = delay_part(pre, mean_h, shape, detection)
        seen = _weighed(self._ends, part.factor) @ self.onset
        share = v[:, None, None]
        rest = np.where((kind == CLEAN)[:, None], self.stay, 0.0)
        unseen = np.where((kind == FAILED)[:, None], self.now, 0.0)
        with np.errstate(divide="ignore"):
            out = np.log((1.0 - share) * seen + share * unseen + rest).sum(axis=1)
        if pre.entries.n:
            seen = _weighed(self._entries, part.entry_factor) @ self.entry_onset
            out = out - np.log((1.0 - share) * seen + self.entry_stay).sum(axis=1)
        return np.asarray(out + part.log_constant)

    def _tops(self, mean_h: float, shape: float, shares: Array, heights: Array) -> list[Row]:
        """Tops of the parabolas through heights (v, points), each with the arrival and its error.

        The points are the refitted arrivals; one top for each share (v,) without warning.
        """
        b = heights @ self.solve.T
        n = self.free
        slope = b[:, 1 : 1 + n]
        curve = np.zeros((len(b), n, n))
        curve[:, range(n), range(n)] = -2.0 * b[:, 1 + n : 1 + 2 * n]
        if n == 2:
            curve[:, 0, 1] = curve[:, 1, 0] = -b[:, 5]
        value, vector = np.linalg.eigh(curve)
        turned = np.swapaxes(vector, 1, 2)
        inverse = (vector / np.maximum(value, 0.05)[:, None, :]) @ turned
        x = np.clip((inverse @ slope[:, :, None])[:, :, 0], -FARTHEST, FARTHEST)
        bent = (curve @ x[:, :, None])[:, :, 0]
        top = b[:, 0] + (slope * x).sum(axis=1) - 0.5 * (x * bent).sum(axis=1)
        at = self.centre + x * self.step
        root = np.maximum(at[:, 0], 1e-3 * float(self.centre[0]))
        turn = np.stack([3.0 / root, np.ones(len(root))], axis=1)[:, :n] * self.step
        spread = inverse * turn[:, :, None] * turn[:, None, :]
        out = []
        for i, v in enumerate(shares.tolist()):
            faults = 3.0 * math.log(root[i])
            a = math.exp(float(at[i, 1])) if n == 2 else 1.0
            error = math.sqrt(spread[i, 0, 0])
            rate = rate_at(self.pre, self.at_h, faults, a, spread[i])
            out.append((mean_h, shape, float(top[i]), faults, error, a, *rate, v))
        return out


def lay_surface(
    pre: Prepared, best: Row, detection: float, arrival: str, at_h: float | None
) -> ArrivalSurface:
    """Lay the surface about an exact refit."""
    free = 2 if arrival == "weibull" else 1
    part = delay_part(pre, best[0], best[1], detection, best[8])
    at = np.array([best[3], math.log(best[5])])[:free]

    def slope(x: Array) -> Array:
        return -log_likelihood(pre, part, float(x[0]), float(x[1]) if free == 2 else 0.0)[1][:free]

    return ArrivalSurface(pre, best, arrival_spread(slope, at), at_h)


def _powers(x: Array) -> Array:
    """Columns of a full parabola: 1, x, x squared, and the product of two."""
    columns = [np.ones(len(x)), *x.T, *(x**2).T]
    if x.shape[1] == 2:
        columns.append(x[:, 0] * x[:, 1])
    return np.stack(columns, axis=1)


def _by_life(terms: Terms) -> csr_array:
    """Return a matrix (n, k) that sums over the integration ages of each life, one row to a life.

    Its weights are still to be put in; see `_weighed`.
    """
    from scipy.sparse import csr_array

    k = len(terms.u)
    ends = np.append(terms.first, k)
    return csr_array((np.empty(k), np.arange(k), ends), shape=(terms.n, k))


def _weighed(matrix: csr_array, factor: Array) -> csr_array:
    """Put the weights (k,) of the integration ages into a matrix, in place."""
    matrix.data[:] = factor
    return matrix
