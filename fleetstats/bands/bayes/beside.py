"""Mixtures of fleets that are alike but for a few lives, on one grid of shapes.

As `ShapeMixture.of_spells` makes them one by one, each on a grid of its own. Failures known only
to lie between two checks are the same in all of the fleets, so that each section of the likelihood
is sought for all of them at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from fleetstats.bands.bayes.mixture import ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior, count_lives
from fleetstats.bands.bayes.shape_weights import gamma_area, shapes_near, weigh_shapes
from fleetstats.bands.likelihood.kept_power import stops
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.likelihood.surface import section_slopes, section_tops, section_value
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.levels import log_grown

MOST_ROWS, MOST_BETWEEN = 200_000, 4_000_000
"""Rows of all fleets, and failures between checks times shapes and fleets, past which they are not
worked out at once."""

OF_ONE_GRID = 1e-4
"""What a probability may differ by from that of a fleet's own grid, where shapes do not pile up at
the steepest or the flattest that there is."""

MOST_AT_ONE = 0.35
"""Greatest weight of one shape: more, and the sum over the grid is no integral any more. The error
of a bell so sampled is some 1e-10, at twice the weight 3e-3."""


def mix_beside(fleets: Sequence[Spells], prior: ShapePrior) -> ShapeMixture | None:
    """Return the mixtures of F fleets; None where they are too large or not alike.

    Parameters
    ----------
    fleets : sequence of Spells
        Each with a failure, and those known only to lie between two checks the same in all.
    prior : ShapePrior
        On shape.
    """
    ends, weight = _between(fleets[0])
    if sum(len(s) for s in fleets) > MOST_ROWS or len(fleets) * len(weight) * 200 > MOST_BETWEEN:
        return None
    for s in fleets[1:]:
        if not all(np.array_equal(a, b) for a, b in zip(_between(s), (ends, weight), strict=True)):
            return None
    sums = _sums(fleets)
    share = np.array([s.n_failed / max(count_lives(s), 1e-300) for s in fleets])
    power = 0.0 * share if prior.stated else share
    if not len(weight):
        grid = _weigh_finely(
            lambda grid: sums.profile(grid) - power[:, None] * grid,
            prior, sums.n_failed, (sums.low, sums.high),
        )[2]  # fmt: skip
        return ShapeMixture.of_sums(sums, prior, share_failed=share, theta=grid)
    with np.errstate(divide="ignore"):
        top = np.log(ends[:, 1] / sums.reference_h)
        span = top - np.log(ends[:, 0] / sums.reference_h)

    def section(grid: Array) -> tuple[Array, Array, Array]:
        gap = np.exp(grid)[:, None] * top + log_grown(np.exp(grid), span)
        return _section(sums, grid, gap, weight)

    def likelihood(grid: Array) -> Array:
        value, _, r = section(grid)
        return np.asarray(value + gamma_area(r) - power[:, None] * grid)

    failed = sums.n_failed + weight.sum()
    free, mixed, grid = _weigh_finely(likelihood, prior, failed, (sums.low, sums.high))
    _, u, r = section(grid)
    return ShapeMixture(
        reference_h=sums.reference_h,
        theta=grid,
        weight=mixed,
        free=free,
        log_power=np.log(r) - u,
        counted=r,
        power=power,
        prior_sd=prior.log_sd,
    )


def may_differ(mixed: ShapeMixture) -> Array:
    """Return (F,) what a probability may differ by from that of each fleet's own grid.

    Each grid counts the shape at its end in full, where half of it would be the integral.
    """
    return np.asarray(OF_ONE_GRID + mixed.weight[:, 0] + mixed.weight[:, -1])


def _weigh_finely(
    likelihood: Callable[[Array], Array], prior: ShapePrior, n_failed: Array,
    ends: tuple[float, float],
) -> tuple[Array, Array, Array]:  # fmt: skip
    """Return what `weigh_shapes` does, and a grid fine enough for the narrowest fleet."""
    grid = shapes_near(likelihood, prior, n_failed, ends)
    told = weigh_shapes(likelihood(grid), prior, n_failed, grid)
    finer = math.ceil(float(told[1].max()) / MOST_AT_ONE)
    if finer > 1:
        grid = np.linspace(grid[0], grid[-1], finer * len(grid))
        told = weigh_shapes(likelihood(grid), prior, n_failed, grid)
    return *told, grid


def _between(spells: Spells) -> tuple[Array, Array]:
    """Return (m, 2) ends in hours and (m,) weights of the failures between two checks."""
    between = spells.interval_known
    ends = np.column_stack([spells.exit_lower[between], spells.exit_upper[between]])
    return ends, spells.weight[between]


def _sums(fleets: Sequence[Spells]) -> PowerSums:
    """Return the power sums of all fleets, failures between checks as survivals."""
    most = max(len(s) for s in fleets)
    ref = max(s.oldest_h for s in fleets)
    entry, stop = np.zeros((2, len(fleets), most))
    failed, weight = np.zeros((2, len(fleets), most))
    stop[:] = ref  # a row of no weight
    for i, s in enumerate(fleets):
        until = stops(s)
        lived = np.flatnonzero(until > s.entry)
        own = slice(len(lived))
        entry[i, own], stop[i, own], weight[i, own] = s.entry[lived], until[lived], s.weight[lived]
        failed[i, own] = (s.failed & ~s.interval_known)[lived]
    return PowerSums.of_arrays(entry, stop, failed, weight, reference_h=ref)


def _section(
    sums: PowerSums, grid: Array, log_gap: Array, weight: Array
) -> tuple[Array, Array, Array]:
    """Return (F, G) the best log-likelihood of each shape, the log rate there, its curvature."""
    r, power = sums.n_failed[:, None], sums.log_power(grid)
    n = r + weight.sum()
    start = np.minimum(np.log(n) - power, -log_gap.max(axis=1) + np.log(n + 1.0))
    u = section_tops(start, r, power, log_gap, weight)
    value = section_value(grid, u, (r, sums.sum_log[:, None]), power, log_gap, weight)
    return value, u, -section_slopes(u, r, power, log_gap, weight)[1]
