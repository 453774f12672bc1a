"""The same measurements for methods that must visit each fleet: resampling and its corrections."""

from __future__ import annotations

import numpy as np
from measure import LEAST_FOR_LIBRARIES, measured_edges
from trial_fleets import ASKED, Cell, draw_fleets

from fleetstats.bands.coverage_table import CONFIDENCE, Measured
from fleetstats.bands.likelihood.batch import find_maxima, signed_roots
from fleetstats.bands.likelihood.region import Maximum, Region, find_maximum
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.resampling.parametric import LEAST_DROP, parametric_grid, simulated_sums
from fleetstats.bands.resampling.refit import refit
from fleetstats.bands.resampling.resampled import (
    corrected_edges,
    draw_quantity,
    influence,
    percentile_edges,
)
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import fit_weibull

LEVEL = 2.0 * CONFIDENCE - 1.0
METHODS = ("weights-percentile", "weights-bca", "parametric", "calibrated-profile")


def measure_resampled(cell: Cell, fleets: int, *, seed: int, draws: int) -> list[Measured]:
    """Measure the resampling methods on the first `fleets` fleets of a cell.

    Fleets with fewer than two failures, or without a maximum, are without an answer.
    """
    ends, failed = draw_fleets(cell, fleets, seed=seed)
    entry = cell.ages()[0]
    edges = np.full((len(METHODS), len(ASKED), 2, fleets), np.nan)
    for i in range(fleets):
        if failed[i].sum() < LEAST_FOR_LIBRARIES:
            continue
        try:
            fit = fit_weibull(Spells.of(entry, ends[i], failed[i]))
            edges[:, :, :, i] = _one_fleet(fit, draws, seed=seed + 1 + i)
        except FitError:  # no maximum, or one so far out that the likelihood is flat to the digit
            continue
    return [
        measured_edges(method, name, quantity, upper, cell, edges[m, q, int(upper)])
        for m, method in enumerate(METHODS)
        for q, (name, quantity) in enumerate(ASKED.items())
        for upper in (False, True)
    ]


def _one_fleet(fit: Fit, draws: int, *, seed: int) -> Array:
    """Return (methods, quantities, 2) edges of one fleet."""
    out = np.full((len(METHODS), len(ASKED), 2), np.nan)
    weighted = refit(fit.spells, draws, seed=seed).kept
    simulated = simulated_sums(fit, draws, seed=seed)
    tops = [find_maxima(s, parametric_grid(s)) for s in simulated]
    surface = Surface.of_spells(fit.spells)
    top = find_maximum(surface)
    ref = surface.reference_h
    for q, quantity in enumerate(ASKED.values()):
        best = float(quantity.value(top.log_shape, top.log_rate, ref))
        score = float(quantity.score(top.log_shape, top.log_rate, ref))
        values = draw_quantity(weighted, quantity)
        out[0, q] = percentile_edges(values, LEVEL)
        out[1, q] = corrected_edges(values, best, influence(fit, quantity), LEVEL)
        again = np.concatenate(
            [
                quantity.value(t.log_shape, t.log_rate, s.reference_h)[t.found]
                for s, t in zip(simulated, tops, strict=True)
            ]
        )
        if len(again) < draws // 2:
            continue
        out[2, q] = percentile_edges(again, LEVEL)
        root = np.concatenate(
            [
                signed_roots(s, t, quantity, np.full(len(s), score), parametric_grid(s))[t.found]
                for s, t in zip(simulated, tops, strict=True)
            ]
        )
        out[3, q] = _calibrated(surface, top, quantity, root)
    return out


def _calibrated(surface: Surface, top: Maximum, quantity: Quantity, root: Array) -> Array:
    out = np.full(2, np.nan)
    tail = 1.0 - CONFIDENCE
    drops = (max(float(np.quantile(root, CONFIDENCE)), 0.0), max(-np.quantile(root, tail), 0.0))
    for side, q in enumerate(drops):
        # the root of a score rises as the score held falls: its upper quantile sets the lower edge
        region = Region.of_surface(surface, drop=max(0.5 * q * q, LEAST_DROP), maximum=top)
        end = region.extremes(quantity)[side]
        if not end[1]:
            at = 1 - side if quantity.kind == "reliability" else side
            out[at] = float(quantity.of_score(end[0], surface.reference_h))
    return out
