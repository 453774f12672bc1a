"""The parametric bootstrap: fleets simulated from the fit, on the entries and stops observed.

Its percentile limits and the simulation-calibrated profile limits are offered for comparison. In
the calibration study both fall short with few failures, since they lean on the very shape that
few failures cannot tell.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.batch import Maxima, find_maxima, signed_roots
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.likelihood.profile import trim_edges
from fleetstats.bands.likelihood.region import Region, find_maximum
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.fit import Fit

BLOCK = 250
"""Fleets simulated by one random stream."""

LEAST_DROP = 1e-9
"""A drop of 0 would leave a region without an inside."""

GRID = 241
REACH = 8.0
"""Half-width of the grid of log shapes in standard errors of about 1 / sqrt(failures)."""


def expand_rows(spells: Spells) -> tuple[Array, Array, Array]:
    """Return entry, exit and failed with one row a life.

    Raises
    ------
    BandError
        If weights are not whole, or failures lie between checks: such lives cannot be drawn again.
    """
    whole = np.rint(spells.weight)
    if not np.array_equal(whole, spells.weight):
        raise BandError(
            "Rows stand for parts of lives, which cannot be simulated.", "Use method 'weights'."
        )
    if bool(spells.interval_known.any()):
        raise BandError(
            "Failures known only to lie between checks are not simulated.", "Use method 'weights'."
        )
    k = np.repeat(np.arange(len(spells)), whole.astype(np.int64))
    return spells.entry[k], spells.exit_upper[k], spells.failed[k]


def draw_stops(entry: Array, exit: Array, failed: Array, rng: np.random.Generator) -> Array:
    """Return (n,) ages at which observation would have stopped had nothing failed.

    A running engine's is known. A failed one's is drawn from the product-limit law of stops beyond
    its failure, which delayed entry and earlier failures censor; where no later stop was seen it is
    the oldest age.
    """
    stops = np.unique(exit[~failed])
    out = exit.copy()
    if not len(stops):
        out[failed] = exit.max()
        return out
    at_risk = np.searchsorted(np.sort(entry), stops, side="left") - np.searchsorted(
        np.sort(exit), stops, side="left"
    )
    ended = np.searchsorted(np.sort(exit[~failed]), stops, side="right") - np.searchsorted(
        np.sort(exit[~failed]), stops, side="left"
    )
    going = np.cumprod(1.0 - ended / np.maximum(at_risk, ended))
    before = np.concatenate([[1.0], going])
    for i in np.flatnonzero(failed):
        first = int(np.searchsorted(stops, exit[i], side="left"))
        goal = before[first] * rng.random()
        later = np.flatnonzero(going[first:] <= goal)
        out[i] = stops[first + later[0]] if len(later) else exit.max()
    return np.maximum(out, exit)


def simulate_fleets(
    entry: Array, stop: Array, shape: float, scale_h: float, n: int, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return (n, m) ages at the end and whether failed, for Weibull lives that reached `entry`."""
    start = (entry / scale_h) ** shape
    life = scale_h * (start + rng.standard_exponential((n, len(entry)))) ** (1.0 / shape)
    failed = life <= stop
    return np.where(failed, life, stop), failed


def simulated_sums(fit: Fit, n: int, *, seed: int) -> list[PowerSums]:
    """Return power sums of `n` fleets simulated from a Weibull fit, in blocks.

    Raises
    ------
    BandError
        As `expand_rows`, or if the fit is not a Weibull.
    """
    if fit.family != "weibull":
        raise BandError(
            f"Fleets are not simulated from a {fit.family} fit.", "Use method 'profile'."
        )
    entry, exit, failed = expand_rows(fit.spells)
    out = []
    for block in range(-(-n // BLOCK)):
        rng = stream(seed, "parametric", block)
        stop = draw_stops(entry, exit, failed, rng)
        size = min(BLOCK, n - block * BLOCK)
        ends, fails = simulate_fleets(entry, stop, fit.shape, fit.scale_h, size, rng)
        low, high = _reach(fit)
        out.append(
            PowerSums.of_simulated(
                entry,
                stop,
                ends,
                fails,
                reference_h=fit.spells.oldest_h,
                low_shape=low,
                high_shape=high,
                count=64,
            )
        )
    return out


def _reach(fit: Fit) -> tuple[float, float]:
    half = float(np.clip(REACH / np.sqrt(max(fit.n_failed, 1.0)), 0.3, 3.0))
    return fit.shape * float(np.exp(-half)), fit.shape * float(np.exp(half))


def parametric_grid(sums: PowerSums) -> Array:
    """Return the log shapes on which simulated fleets are looked at."""
    return np.linspace(sums.low, sums.high, GRID)


def parametric_values(fit: Fit, quantity: Quantity, n: int, *, seed: int) -> Array:
    """Return the quantity at the maxima of simulated fleets that have one."""
    values = []
    for sums in simulated_sums(fit, n, seed=seed):
        top: Maxima = find_maxima(sums, parametric_grid(sums))
        value = quantity.value(top.log_shape, top.log_rate, sums.reference_h)
        values.append(value[top.found])
    return np.concatenate(values)


def calibrated_interval(
    fit: Fit, quantity: Quantity, *, level: float, n: int, seed: int
) -> Interval:
    """Return profile limits whose drop, on each side, is that which simulated fleets show.

    Each simulated fleet gives the signed root of its likelihood ratio at the fit's own value; the
    quantiles of these take the place of the normal's.

    Raises
    ------
    BandError
        As `simulated_sums`, or if fewer than half the simulated fleets have a maximum.
    """
    roots = []
    ref = fit.spells.oldest_h
    theta = float(np.log(fit.shape))
    u = -fit.shape * float(np.log(fit.scale_h / ref))
    best, score = float(quantity.value(theta, u, ref)), float(quantity.score(theta, u, ref))
    for sums in simulated_sums(fit, n, seed=seed):
        grid = parametric_grid(sums)
        top = find_maxima(sums, grid)
        root = signed_roots(sums, top, quantity, np.full(len(sums), score), grid)
        roots.append(root[top.found])
    r = np.concatenate(roots)
    if len(r) < n // 2:
        raise BandError(
            f"Only {len(r)} of {n} simulated fleets have a maximum.", "Use 'shape-mixture'."
        )
    tail = 0.5 * (1.0 - level)
    surface = Surface.of_spells(fit.spells)
    peak = find_maximum(surface)
    edges: list[float | None] = []
    for side, q in enumerate((np.quantile(r, 1.0 - tail), -np.quantile(r, tail))):
        # the root rises as the score held falls: its upper quantile sets the lower edge of a score
        drop = max(0.5 * max(float(q), 0.0) ** 2, LEAST_DROP)
        end = Region.of_surface(surface, drop=drop, maximum=peak).extremes(quantity)[side]
        edges.append(None if end[1] else float(quantity.of_score(end[0], ref)))
    if quantity.kind == "reliability":
        edges.reverse()
    return trim_edges(
        quantity, best, edges[0], edges[1], ref, level=level, method="calibrated-profile"
    )
