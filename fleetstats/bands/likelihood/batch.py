"""Likelihood answers for many fleets at once: maxima, signed roots and curvature.

The calibration study and the parametric bootstrap ask the same of thousands of fleets. Everything
here works on `PowerSums` of F fleets and one grid of log shapes that they share, so that no fleet
is visited by itself.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array, Value, value


@value
class Maxima(Value):
    """Maxima of F fleets; NaN where a fleet has none on the grid.

    Parameters
    ----------
    log_shape, log_rate, value : (F,) float
        Where each likelihood is greatest, and its log there less constants of the data.
    found : (F,) bool
    """

    log_shape: Array
    log_rate: Array
    value: Array
    found: Array

    def take(self, fleets: slice) -> Maxima:
        """Return some of the fleets."""
        return Maxima(
            log_shape=self.log_shape[fleets],
            log_rate=self.log_rate[fleets],
            value=self.value[fleets],
            found=self.found[fleets],
        )


def _peak(values: Array, grid: Array) -> tuple[Array, Array, Array]:
    """Return place and height of each row's maximum by a parabola through its three points."""
    k = np.argmax(values, axis=1)
    inner = (k > 0) & (k < len(grid) - 1)
    j = np.clip(k, 1, len(grid) - 2)
    rows = np.arange(len(values))
    a, b, c = values[rows, j - 1], values[rows, j], values[rows, j + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (a - c) / (a - 2 * b + c)
    shift = np.where(inner & np.isfinite(shift), np.clip(shift, -1.0, 1.0), 0.0)
    height = np.where(inner, b - 0.25 * (a - c) * shift, values[rows, k])
    place = np.where(inner, grid[j] + shift * (grid[1] - grid[0]), grid[k])
    return place, height, inner


def find_maxima(sums: PowerSums, grid: Array) -> Maxima:
    """Return the maxima of fleets with failures; the grid (G,) of log shapes must be fine.

    A parabola between points a tenth of a standard error apart is right to 1e-5 of one.
    """
    some = sums.n_failed > 0
    place, height, inner = _peak(sums.profile(grid), grid)
    found = some & inner
    log_power = sums.log_power_each(place)[0]
    with np.errstate(divide="ignore"):
        rate = np.log(sums.n_failed) - log_power
    # the profile leaves out r log r - r, which the constrained value below keeps
    with np.errstate(divide="ignore", invalid="ignore"):
        full = height + sums.n_failed * np.log(sums.n_failed) - sums.n_failed
    bad = np.nan
    return Maxima(
        log_shape=np.where(found, place, bad),
        log_rate=np.where(found, rate, bad),
        value=np.where(found, full, bad),
        found=found,
    )


def signed_roots(
    sums: PowerSums, maxima: Maxima, quantity: Quantity, score: Array, grid: Array
) -> Array:
    """Return (F,) signed roots of the likelihood ratio for a quantity held at `score` (F,).

    Positive where the estimate's score lies above. Standard normal in large samples; NaN where a
    fleet has no maximum.
    """
    ref = sums.reference_h
    if quantity.kind == "shape":
        log_power = sums.log_power_each(score)[0]
        r = sums.n_failed
        with np.errstate(divide="ignore", invalid="ignore"):
            held = r * score + sums.sum_log * np.exp(score) - r * log_power + r * np.log(r) - r
    else:
        u = quantity.log_rate(grid[None, :], score[:, None], ref)
        r, s = sums.n_failed[:, None], sums.sum_log[:, None]
        with np.errstate(over="ignore"):
            mean = np.exp(np.minimum(u + sums.log_power(grid), 700.0))
        held = _peak(r * (u + grid) + s * np.exp(grid) - mean, grid)[1]
    best = quantity.score(maxima.log_shape, maxima.log_rate, ref)
    fall = np.maximum(2.0 * (maxima.value - held), 0.0)
    return np.asarray(np.where(best > score, 1.0, -1.0) * np.sqrt(fall))
