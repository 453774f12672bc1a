"""What each method's edges do on fleets of known truth: coverage, reach, silence.

An edge holds if the truth lies on its right side. Whether it does is read from the method's own
statistic at the truth, so thousands of fleets cost no more than a few: a posterior probability for
the mixtures, the signed root of the likelihood ratio for profile limits, a normal deviate for the
normal approximations. A missing edge ("no upper limit from these data") excludes nothing, so it
holds; how often that is stands beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from trial_fleets import ASKED, GRID, OLDEST_H, Cell, draw_fleets, sum_fleets

from fleetstats.bands.bayes.mixture import OPTIMISTIC, PESSIMISTIC, ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.coverage_table import CONFIDENCE, Measured
from fleetstats.bands.likelihood.batch import Maxima, find_maxima, signed_roots
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array

LEAST_FOR_LIBRARIES = 2
"""Distinct failures below which the libraries' fits mean nothing or refuse."""

REACH_FLEETS = 200
"""Fleets over which the median reach of edges is taken."""

FARTHEST_SCORE = 20.0
"""Distance in log hours or log hazard beyond which a profile edge counts as missing."""

METHODS = ("shape-mixture", "profile", "normal-log", "normal-plain", "posterior")
"""``normal-log`` is the approximation on the log scale, which `reliability` prints;
``normal-plain`` that on the plain scale of R, which lifelines prints. Both are checked against
the libraries themselves in ``tests/coverage``."""


def measure_cell(
    cell: Cell, fleets: int, *, seed: int, methods: tuple[str, ...] = METHODS
) -> list[Measured]:
    """Measure methods on simulated fleets of one cell.

    Parameters
    ----------
    cell : Cell
        The truth.
    fleets : int
        Fleets simulated; all methods see the same.
    seed : int
        Of the study.
    methods : tuple of str
        Names from `METHODS`.
    """
    ends, failed = draw_fleets(cell, fleets, seed=seed)
    sums = sum_fleets(cell, ends, failed)
    top = find_maxima(sums, GRID)
    out = []
    for method in methods:
        asked = PREPARE[method](cell, sums, top)
        for name, quantity in ASKED.items():
            if method == "normal-plain" and quantity.kind == "conditional":
                continue  # lifelines has no such limits
            score = float(quantity.score_of(cell.truth(quantity), sums.reference_h))
            for upper in (False, True):
                margin, silent = asked.margin(quantity, score, upper)
                few = asked.take(slice(0, REACH_FLEETS))
                reach = few.reach(quantity, score, upper, silent[:REACH_FLEETS])
                out.append(_row(method, name, upper, cell, margin, silent, reach))
    return out


def _row(
    method: str, name: str, upper: bool, cell: Cell, margin: Array, silent: Array, reach: float
) -> Measured:
    p = float((silent | (margin >= 0.0)).mean())
    n = len(silent)
    return Measured(
        method=method,
        quantity=name,
        edge="high" if upper else "low",
        shape=cell.shape,
        n=cell.n,
        late=cell.late,
        expected=cell.expected,
        fleets=n,
        coverage=p,
        # at a share of 0 or 1 the error is that of half a fleet
        error=float(np.sqrt(max(p * (1.0 - p), 0.5 / n) / n)),
        silent=float(silent.mean()),
        reach=reach,
    )


def measured_edges(
    method: str, name: str, quantity: Quantity, upper: bool, cell: Cell, edges: Array
) -> Measured:
    """Return the row of a method whose edges (F,) are at hand; NaN where there is none."""
    silent = np.isnan(edges)
    score = float(quantity.score_of(cell.truth(quantity), OLDEST_H))
    at = quantity.score_of(np.where(silent, 1.0, edges), OLDEST_H)
    rising = upper != (quantity.kind == "reliability")
    margin = np.where(silent, 0.0, at - score if rising else score - at)
    reach = _median_reach(at, score, silent)
    return _row(method, name, upper, cell, margin, silent, reach)


class Prepared(Protocol):
    """A method ready to be asked about the fleets of a cell."""

    def take(self, fleets: slice) -> Prepared:
        """Return the same for some of the fleets."""

    def margin(self, quantity: Quantity, score: float, upper: bool) -> tuple[Array, Array]:
        """Return by how much each edge holds at the true score, and where there is none."""

    def reach(self, quantity: Quantity, score: float, upper: bool, silent: Array) -> float:
        """Return the median distance of the edges from the true score."""


def _median_reach(edge: Array, score: float, silent: Array) -> float:
    """Return the median distance, a missing edge being infinitely far; NaN if that is the
    median.
    """
    away = np.where(silent, np.inf, np.abs(edge - score))
    middle = float(np.median(away)) if len(away) else float("nan")
    return middle if np.isfinite(middle) else float("nan")


@dataclass(frozen=True, slots=True)
class _Mixed:
    """A posterior: the default, or the one with stated priors."""

    mixture: ShapeMixture
    n_failed: Array
    default: bool

    def take(self, fleets: slice) -> _Mixed:
        return _Mixed(self.mixture.take(fleets), self.n_failed[fleets], self.default)

    def _added(self, quantity: Quantity, upper: bool) -> float:
        pessimistic = self.default and upper != quantity.falls_with_rate
        return PESSIMISTIC if pessimistic else OPTIMISTIC

    def _silent(self, quantity: Quantity, upper: bool) -> Array:
        none = np.asarray(self.n_failed == 0)
        # with nothing failed only the pessimistic edge of the default exists
        has = self.default and quantity.kind != "shape" and upper != quantity.falls_with_rate
        return none & (not has)

    def margin(self, quantity: Quantity, score: float, upper: bool) -> tuple[Array, Array]:
        value = np.full(len(self.n_failed), float(quantity.of_score(score, OLDEST_H)))
        added = self._added(quantity, upper)
        if quantity.kind == "shape":
            added = PESSIMISTIC if upper else OPTIMISTIC
        below = self.mixture.below(quantity, value, added=added)
        margin = CONFIDENCE - below if upper else below - (1.0 - CONFIDENCE)
        return margin, self._silent(quantity, upper)

    def reach(self, quantity: Quantity, score: float, upper: bool, silent: Array) -> float:
        p = CONFIDENCE if upper else 1.0 - CONFIDENCE
        value = self.mixture.bound(quantity, p, added=self._added(quantity, upper))
        return _median_reach(quantity.score_of(value, OLDEST_H), score, silent)


@dataclass(frozen=True, slots=True)
class _Ratio:
    """Profile likelihood: signed roots against the normal's quantile."""

    sums: PowerSums
    top: Maxima

    def take(self, fleets: slice) -> _Ratio:
        return _Ratio(self.sums.take(fleets), self.top.take(fleets))

    def margin(self, quantity: Quantity, score: float, upper: bool) -> tuple[Array, Array]:
        at = np.full(len(self.sums), score)
        root = signed_roots(self.sums, self.top, quantity, at, GRID)
        return _deviate_margin(root, quantity, upper), ~self.top.found

    def reach(self, quantity: Quantity, score: float, upper: bool, silent: Array) -> float:
        # the root falls as the score held rises; false position is not needed for a median
        rising = upper != (quantity.kind == "reliability")
        goal = -_deviate() if rising else _deviate()
        best = quantity.score(self.top.log_shape, self.top.log_rate, OLDEST_H)
        inner = np.where(silent, score, best)
        outer = inner + (FARTHEST_SCORE if rising else -FARTHEST_SCORE)
        for _ in range(34):
            middle = 0.5 * (inner + outer)
            root = signed_roots(self.sums, self.top, quantity, middle, GRID)
            short = root > goal if rising else root < goal
            inner, outer = np.where(short, middle, inner), np.where(short, outer, middle)
        missing = np.abs(inner - best) > 0.99 * FARTHEST_SCORE
        return _median_reach(inner, score, silent | missing)


@dataclass(frozen=True, slots=True)
class _Normal:
    """Normal approximations, on the log scale or on the plain scale of R."""

    sums: PowerSums
    top: Maxima
    plain: bool

    def take(self, fleets: slice) -> _Normal:
        return _Normal(self.sums.take(fleets), self.top.take(fleets), self.plain)

    def _deviates(self, quantity: Quantity, score: float) -> Array:
        if not self.plain:
            s, error = wald_scores(self.sums, self.top, quantity)
            with np.errstate(invalid="ignore", divide="ignore"):
                return np.asarray((s - score) / error)
        if quantity.kind == "shape":
            s, error = wald_scores(self.sums, self.top, quantity)
            shape = np.exp(s)
            with np.errstate(invalid="ignore", divide="ignore"):
                return np.asarray((shape - np.exp(score)) / (shape * error))
        # a life's limits are where the limits of the curve cross, so R is asked at the true life
        hours = float(quantity.of_score(score, OLDEST_H)) if quantity.kind == "life" else None
        at = quantity if hours is None else Quantity.reliability(hours)
        goal = 1.0 - quantity.p if hours is not None else float(quantity.of_score(score, OLDEST_H))
        s, error = wald_scores(self.sums, self.top, at)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            r = np.exp(-np.exp(s))
            # signed as the score of a reliability is, which falls as R rises
            sign = 1.0 if quantity.kind == "life" else -1.0
            return np.asarray(sign * (r - goal) / (r * np.exp(s) * error))

    def margin(self, quantity: Quantity, score: float, upper: bool) -> tuple[Array, Array]:
        silent = ~self.top.found | (self.sums.n_failed < LEAST_FOR_LIBRARIES)
        deviate = self._deviates(quantity, score)
        silent = silent | ~np.isfinite(deviate)
        return _deviate_margin(deviate, quantity, upper), silent

    def reach(self, quantity: Quantity, score: float, upper: bool, silent: Array) -> float:
        if self.plain:
            return float("nan")
        s, error = wald_scores(self.sums, self.top, quantity)
        rising = upper != (quantity.kind == "reliability")
        edge = s + (_deviate() if rising else -_deviate()) * error
        return _median_reach(edge, score, silent)


def wald_scores(sums: PowerSums, maxima: Maxima, quantity: Quantity) -> tuple[Array, Array]:
    """Return (F,) scores of a quantity at the maxima and their standard errors.

    The score is log hours, log shape, or the log of the cumulative hazard that matters.
    """
    theta, ref = maxima.log_shape, sums.reference_h
    safe = np.where(maxima.found, theta, 0.0)
    _, slope, bend = sums.log_power_each(safe, derivatives=2)
    r = sums.n_failed
    # second derivatives of the log-likelihood in (log shape, log rate) at the maximum, where
    # rate times A is r
    shape = np.exp(safe)
    tt = sums.sum_log * shape - r * (bend + slope**2)
    tu, uu = -r * slope, -r
    with np.errstate(divide="ignore", invalid="ignore"):
        det = tt * uu - tu**2
        var_t, var_u, cov = -uu / det, -tt / det, tu / det
    h = 1e-5
    u = np.where(maxima.found, maxima.log_rate, 0.0)
    g_t = (quantity.score(safe + h, u, ref) - quantity.score(safe - h, u, ref)) / (2 * h)
    g_u = (quantity.score(safe, u + h, ref) - quantity.score(safe, u - h, ref)) / (2 * h)
    with np.errstate(invalid="ignore"):
        error = np.sqrt(g_t**2 * var_t + 2 * g_t * g_u * cov + g_u**2 * var_u)
    return np.where(maxima.found, quantity.score(safe, u, ref), np.nan), error


def _deviate() -> float:
    from scipy.special import ndtri

    return float(ndtri(CONFIDENCE))


def _deviate_margin(deviate: Array, quantity: Quantity, upper: bool) -> Array:
    """Return the margin by which an edge holds, for deviates of estimate minus truth in score."""
    rising = upper != (quantity.kind == "reliability")
    return np.asarray(np.nan_to_num(deviate + _deviate() if rising else _deviate() - deviate))


def _default(cell: Cell, sums: PowerSums, _top: Maxima) -> _Mixed:
    share = sums.n_failed / cell.n
    mixed = ShapeMixture.of_sums(sums, ShapePrior(), share_failed=share, theta=GRID)
    return _Mixed(mixed, sums.n_failed, default=True)


def _stated(_cell: Cell, sums: PowerSums, _top: Maxima) -> _Mixed:
    # flat on log t_p is flat on log rate over shape, hence the factor 1 / shape
    keys = ShapePrior(stated=True)
    tilted = ShapePrior(
        median=keys.median * float(np.exp(-(keys.log_sd**2))), log_sd=keys.log_sd, stated=True
    )
    none = np.zeros(len(sums))
    mixed = ShapeMixture.of_sums(sums, tilted, share_failed=none, theta=GRID)
    return _Mixed(mixed, sums.n_failed, default=False)


PREPARE: dict[str, Callable[[Cell, PowerSums, Maxima], Prepared]] = {
    "shape-mixture": _default,
    "profile": lambda _cell, sums, top: _Ratio(sums, top),
    "normal-log": lambda _cell, sums, top: _Normal(sums, top, plain=False),
    "normal-plain": lambda _cell, sums, top: _Normal(sums, top, plain=True),
    "posterior": _stated,
}
