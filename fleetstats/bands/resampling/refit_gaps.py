"""Refits of a Weibull where some failures are only known to lie between checks.

The rows that are exact, and all survivals, are power sums as in `refit`; only the failures between
checks are summed anew for each draw. With log shape, log rate and the derivatives of both in closed
form, Newton's method needs a handful of steps for all draws at once. What it does not bring home
goes to `refit_newton`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.likelihood.power import nodes_of, series_at, series_matrix
from fleetstats.bands.resampling.panels import NODES, PANEL, reach_of
from fleetstats.bands.resampling.refit_newton import refit_draws
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.fit_weibull import fit_weibull

STEPS = 30
TOLERANCE = 1e-11
LONGEST = 0.4
"""Longest step in log shape and in log rate; whoever needs many of them is sought otherwise."""

CELLS = 400_000
"""Draws times intervals at a time."""


def refit_between_checks(
    spells: Spells, plan: Resampling, blocks: range
) -> tuple[Array, Array, int]:
    """Return shape and scale in hours (B, 2), whether each draw of some blocks converged, and how
    many had to be sought by `refit_newton`.

    Raises
    ------
    NoMaximum
        If the spells themselves have no maximum.
    """
    fit = fit_weibull(spells)
    ref = spells.oldest_h
    centre = float(np.log(fit.shape))
    start = np.array([centre, -fit.shape * float(np.log(fit.scale_h / ref))])
    count = int(np.ceil(reach_of(spells.n_failed) / PANEL))
    middles = centre + PANEL * (2 * np.arange(count) + 1 - count)
    sums = _sum_rows(spells, plan, ref, middles, blocks)
    first = plan.draws_of(blocks.start).start
    theta, u = np.empty(len(sums.failed)), np.empty(len(sums.failed))
    step = max(1, CELLS // max(sums.gap.shape[1], 1))
    for i in range(0, len(theta), step):
        part = slice(i, i + step)
        theta[part], u[part] = _climb(sums.take(part), start)
    with np.errstate(over="ignore"):
        shape = np.exp(theta)
        estimate = np.column_stack([shape, ref * np.exp(-u / shape)])
    slow = np.flatnonzero(np.isnan(theta))
    done = ~np.isnan(theta)
    for block in blocks if len(slow) else ():
        rows = plan.draws_of(block)
        mine = slow[(slow + first >= rows.start) & (slow + first < rows.stop)]
        if len(mine):
            weights = plan.weights_of(block)[mine + first - rows.start]
            estimate[mine], done[mine] = refit_draws(spells, "weibull", weights, fit)
    return estimate, done, len(slow)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sums:
    """Weighted sums of B draws.

    `coef` (B, panels, NODES) is the series of log A over each panel, NaN where A is not positive;
    `failed`, `sum_log` (B,) are the exact failures and their logs; `gap` (B, m) weighs the
    intervals, whose ends are ``exp(low)`` and ``exp(high)`` of the oldest age.
    """

    middles: Array
    coef: Array
    failed: Array
    sum_log: Array
    gap: Array
    low: Array
    high: Array

    def take(self, part: slice) -> _Sums:
        return _Sums(
            middles=self.middles,
            coef=self.coef[part],
            failed=self.failed[part],
            sum_log=self.sum_log[part],
            gap=self.gap[part],
            low=self.low,
            high=self.high,
        )


def _sum_rows(spells: Spells, plan: Resampling, ref: float, middles: Array, blocks: range) -> _Sums:
    between = spells.interval_known
    exact = spells.failed & ~between
    with np.errstate(divide="ignore"):
        log_e = np.log(spells.entry / ref)
        log_t = np.log(np.where(between, spells.exit_lower, spells.exit_upper) / ref)
    ends, pair = np.unique(
        np.column_stack([spells.exit_lower[between], spells.exit_upper[between]]),
        axis=0,
        return_inverse=True,
    )
    pair_of_row = np.full(len(spells), -1)
    pair_of_row[between] = pair.ravel()
    shapes = np.exp(middles[:, None] + nodes_of(NODES, -PANEL, PANEL)[None, :]).ravel()
    k = len(shapes)
    first, stop = plan.draws_of(blocks.start).start, plan.draws_of(blocks.stop - 1).stop
    totals = np.zeros((stop - first, k + 2))
    gap = np.zeros((stop - first, len(ends)))
    order = np.argsort(plan.unit_of_row, kind="stable")
    unit = plan.unit_of_row[order]
    lived = log_t > log_e
    for c, units in plan.chunks():
        rows = order[np.searchsorted(unit, units.start) : np.searchsorted(unit, units.stop)]
        terms = np.zeros((len(rows), k + 2))
        keep = lived[rows]
        t, e = log_t[rows][keep], log_e[rows][keep]
        late = np.flatnonzero(np.isfinite(e))
        run = e[late] - t[late]
        for j, b in enumerate(shapes):
            part = np.exp(b * t)
            part[late] *= -np.expm1(b * run)
            terms[keep, j] = part
        terms[:, k] = exact[rows]
        terms[:, k + 1] = np.where(exact[rows], log_t[rows], 0.0)
        terms *= plan.row_weight[rows, None]
        mine = plan.unit_of_row[rows] - units.start
        starts = np.searchsorted(mine, np.arange(units.stop - units.start))
        terms = np.add.reduceat(terms, starts, axis=0)
        hit = rows[between[rows]]
        for block in blocks:
            rows_of, w = plan.draws_of(block), plan.draw(block, c, units)
            draws = slice(rows_of.start - first, rows_of.stop - first)
            totals[draws] += w @ terms
            for row in hit:
                at = w[:, plan.unit_of_row[row] - units.start]
                gap[draws, pair_of_row[row]] += plan.row_weight[row] * at
    a = totals[:, :k].reshape(-1, len(middles), NODES)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_a = np.where(a.min(axis=2, keepdims=True) > 0.0, np.log(a), np.nan)
        low, high = np.log(ends / ref).T
    return _Sums(
        middles=middles,
        coef=log_a @ series_matrix(NODES).T,
        failed=totals[:, k],
        sum_log=totals[:, k + 1],
        gap=gap,
        low=low,
        high=high,
    )


def _ratio(v: Array) -> tuple[Array, Array]:
    """Return v / (e^v - 1) and its slope in log v, without loss at either end."""
    tiny, big = v < 1e-8, v > 500.0
    safe = np.clip(v, 1e-8, 500.0)
    e = np.expm1(safe)
    g = np.where(tiny, 1.0 - 0.5 * v, np.where(big, 0.0, safe / e))
    slope = np.where(tiny, -0.5 * v, np.where(big, 0.0, safe / e * (1.0 - safe * (1.0 + 1.0 / e))))
    return g, slope


def _climb(sums: _Sums, start: Array) -> tuple[Array, Array]:
    """Return log shape and log rate of each draw's maximum; NaN where it was not reached."""
    n = len(sums.failed)
    theta, u = np.full(n, start[0]), np.full(n, start[1])
    out = np.full((2, n), np.nan)
    left = np.flatnonzero((sums.failed + sums.gap.sum(axis=1)) > 0.0)
    first, width = sums.middles[0], 2.0 * PANEL
    for _ in range(STEPS):
        if not len(left):
            break
        th, at = theta[left], u[left]
        panel = np.clip(np.rint((th - first) / width), 0, len(sums.middles) - 1).astype(int)
        x = (th - sums.middles[panel]) / PANEL
        log_a, d1, d2 = series_at(sums.coef[left, panel], x, derivatives=2)
        d1, d2 = d1 / PANEL, d2 / PANEL**2
        b = np.exp(th)
        r, s, w = sums.failed[left], sums.sum_log[left], sums.gap[left]
        with np.errstate(over="ignore", under="ignore", invalid="ignore"):
            y = b[:, None] * (sums.high - sums.low)
            h, h_slope = _ratio(y)
            q = b[:, None] * sums.high + h
            q_slope = b[:, None] * sums.high + h_slope
            log_gap = b[:, None] * sums.high + np.log(-np.expm1(-y))
            g, g_slope = _ratio(np.exp(at[:, None] + log_gap))
            c = np.exp(at + log_a)
            by_u = r - c + (w * g).sum(axis=1)
            by_theta = r + b * s - c * d1 + (w * g * q).sum(axis=1)
            uu = -c + (w * g_slope).sum(axis=1)
            ut = -c * d1 + (w * g_slope * q).sum(axis=1)
            tt = b * s - c * (d2 + d1**2) + (w * (g_slope * q**2 + g * q_slope)).sum(axis=1)
            size = uu * tt - ut**2
            go_theta = (ut * by_u - uu * by_theta) / size
            go_u = (ut * by_theta - tt * by_u) / size
            longest = np.maximum(np.abs(go_theta), np.abs(go_u))
            bent = (uu < 0.0) & (size > 0.0) & np.isfinite(longest) & (np.abs(x) <= 1.0)
            short = np.minimum(1.0, LONGEST / np.where(longest > 0.0, longest, 1.0))
        theta[left] = th + short * go_theta
        u[left] = at + short * go_u
        there = bent & (longest < TOLERANCE)
        out[0, left[there]], out[1, left[there]] = theta[left[there]], u[left[there]]
        left = left[bent & ~there]
    return out[0], out[1]
