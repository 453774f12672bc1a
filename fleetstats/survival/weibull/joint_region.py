"""The joint likelihood region of shape and scale, as a closed line for a picture.

Two groups whose regions lie apart differ in shape, scale or both; overlapping regions prove
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.polynomial.chebyshev import chebinterpolate, chebval

from fleetstats.core.gate import LEVEL, gate
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT

DIRECTIONS = 96

MOST_CHORDS = 60
"""Chords drawn on a ray; five or six are usual."""

NEAR = 1e-11
"""Part of the radius, or of the fall, that two chords may differ by at the edge."""

ROWS = 1024
"""Lives taken at a time."""

SERIES_FROM = 5_000
"""Lives from which on their sum is read off a Chebyshev series in log shape."""

SERIES_NODES = 24
"""Shapes at which all lives are added up for the series; a region asks at a thousand."""

SERIES_REACH = 10.0
"""How far the series goes on either side, in standard errors of log shape as they are with heavy
censoring, 1 / sqrt(failures); a region of 90 % goes as far as 3."""

SERIES_LEFT = 1e-13
"""Size of the last terms up to which the series stands for the sum."""


@value
class JointRegion(Value):
    """Edge of a joint likelihood region of a Weibull.

    Parameters
    ----------
    level : float
        Joint confidence for shape and scale together (chi-square with two degrees of freedom).
    scale_h, shape : (m,) float
        Points of the edge, in order, closed; NaN where the region is open in that direction.
    is_open : bool
        The likelihood does not fall far enough in some direction.
    """

    level: float
    scale_h: Floats
    shape: Floats
    is_open: bool


@gate(fit=FIT, level=LEVEL)
def estimate_joint_region(fit: Fit, *, level: float = 0.90) -> JointRegion:
    """Return the edge where twice the log-likelihood has fallen by chi-square(level; 2).

    Parameters
    ----------
    fit : Fit
        A Weibull fit.
    level : float
        Joint confidence.

    Returns
    -------
    JointRegion
        Points of the edge in order; `is_open` where it does not close.

    References
    ----------
    .. [1] Meeker, Escobar & Pascual (2021). Statistical Methods for Reliability Data, section 8.3.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> region = fs.estimate_joint_region(fs.fit_weibull(lives))
    >>> print(min(region.shape).round(2), max(region.shape).round(2))
    1.19 5.11
    """
    drop = -math.log1p(-level)  # half of the chi-square quantile with two degrees of freedom
    lives = kept(fit, ("rows of regions",), lambda: _Rows.of(fit.spells, fit.shape))
    centre = np.log([fit.shape, fit.scale_h])
    cov = fit.covariance / np.outer(fit.estimate, fit.estimate)
    axes = np.linalg.cholesky(0.5 * (cov + cov.T))
    angle = np.linspace(0.0, 2.0 * math.pi, DIRECTIONS, endpoint=False)
    ray = axes @ np.vstack([np.cos(angle), np.sin(angle)])
    top = lives.log_likelihood(centre[:1], centre[1:])[0]
    start = math.sqrt(2.0 * drop)

    def beyond(radius: Array, which: Array) -> Array:
        at = centre[:, None] + radius * ray[:, which]
        fall = np.maximum(top - lives.log_likelihood(at[0], at[1]), 0.0)
        return np.asarray(np.sqrt(2.0 * fall) - start)

    radius, is_open = _where_it_falls(beyond, start)
    edge = np.exp(centre[:, None] + radius * ray)
    edge = np.concatenate([edge, edge[:, :1]], axis=1)
    return JointRegion(level=level, shape=edge[0], scale_h=edge[1], is_open=bool(is_open.any()))


def _where_it_falls(beyond: Callable[[Array, Array], Array], start: float) -> tuple[Array, Array]:
    """Return the radius at which `beyond` rises through 0 on each ray, and where it never does.

    `beyond` takes radii and the numbers of their rays. The root of the fall of a log-likelihood is
    nearly straight in the radius, so that a few chords reach it; a side that stays is halved
    (Illinois rule; Dowell & Jarratt 1971), and what is no number inside is sought at the middle.
    """
    every = np.arange(DIRECTIONS)
    low, high = np.zeros(DIRECTIONS), np.full(DIRECTIONS, start)
    at_low, at_high = np.full(DIRECTIONS, -start), beyond(high, every)
    for _ in range(10):
        still = np.flatnonzero(at_high < 0.0)
        if not len(still):
            break
        low[still], at_low[still] = high[still], at_high[still]
        high[still] *= 1.5
        at_high[still] = beyond(high[still], still)
    is_open = at_high < 0.0
    radius, side = high.copy(), np.zeros(DIRECTIONS)
    left = np.flatnonzero(~is_open)
    for _ in range(MOST_CHORDS):
        if not len(left):
            break
        a, b, fa, fb = low[left], high[left], at_low[left], at_high[left]
        with np.errstate(invalid="ignore", divide="ignore"):
            x = b - fb * (b - a) / (fb - fa)
        x = np.where((x > a) & (x < b), x, 0.5 * (a + b))
        f = beyond(x, left)
        outside = f >= 0.0
        up, down = left[outside], left[~outside]
        at_low[up[side[up] > 0]] *= 0.5
        at_high[down[side[down] < 0]] *= 0.5
        high[up], at_high[up], side[up] = x[outside], f[outside], 1.0
        low[down], at_low[down], side[down] = x[~outside], f[~outside], -1.0
        near = (np.abs(x - radius[left]) <= NEAR * x) | (np.abs(f) <= NEAR * start)
        radius[left] = x
        left = left[~near]
    return np.where(is_open, np.nan, radius), is_open


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """Lives as columns, for log-likelihoods at many shapes and scales at once."""

    ends: Array
    end_weight: Array
    entries: Array
    entry_weight: Array
    lower: Array
    upper: Array
    between_weight: Array
    n_exact: float
    sum_log: float
    centre: float
    reach: float
    series: Array | None = None

    @classmethod
    def of(cls, spells: Spells, shape: float) -> _Rows:
        """Take logs of hours; those of many lives are added up at nodes around `shape`."""
        many = len(spells) >= SERIES_FROM
        c = spells if many else spells.collapse()
        exact = c.failed & ~c.interval_known
        late = c.entry > 0
        with np.errstate(divide="ignore"):
            out = cls(
                ends=np.log(c.exit_upper[~c.interval_known]),
                end_weight=c.weight[~c.interval_known],
                entries=np.log(c.entry[late]),
                entry_weight=c.weight[late],
                lower=np.log(c.exit_lower[c.interval_known]),
                upper=np.log(c.exit_upper[c.interval_known]),
                between_weight=c.weight[c.interval_known],
                n_exact=float(c.weight[exact].sum()),
                sum_log=float(c.weight[exact] @ np.log(c.exit_upper[exact])),
                centre=math.log(shape),
                reach=SERIES_REACH / math.sqrt(max(c.n_failed, 1.0)),
            )
        return replace(out, series=out._made_series()) if many else out

    def log_likelihood(self, log_shape: Array, log_scale: Array) -> Array:
        """Return (m,) log-likelihoods, a constant left out."""
        shape, x = np.exp(log_shape)[:, None], log_scale[:, None]
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            out = -self._hazard(log_shape, log_scale)
            for y, z, w in _pieces(self.lower, self.upper, self.between_weight):
                a, b = np.exp(shape * (y - x)), np.exp(shape * (z - x))
                out += (np.log(-np.expm1(a - b)) - a) @ w
        b1 = shape[:, 0]
        out = out + self.n_exact * (log_shape - b1 * log_scale) + b1 * self.sum_log
        return np.where(np.isnan(out), -np.inf, out)

    def _hazard(self, log_shape: Array, log_scale: Array) -> Array:
        """Return (m,) sums of the cumulative hazard from entry to end, failures between left out.

        At a scale s it is ``s^-shape`` times a function of the shape alone, whose log is smooth.
        """
        if self.series is None:
            return self._added_up(np.exp(log_shape), log_scale)
        at = (log_shape - self.centre) / self.reach
        log_sum = chebval(np.clip(at, -1.0, 1.0), self.series)
        out = np.exp(log_sum + np.exp(log_shape) * (self._top - log_scale))
        far = np.abs(at) > 1.0
        out[far] = self._added_up(np.exp(log_shape[far]), log_scale[far])
        return np.asarray(out)

    @property
    def _top(self) -> float:
        return float(self.ends.max())

    def _made_series(self) -> Array | None:
        """Return the series of the log of the sum in log shape; None where it is not smooth."""
        if not len(self.ends):
            return None

        def log_sum(at: Any) -> Any:
            shapes = np.exp(self.centre + self.reach * at)
            return np.log(self._added_up(shapes, np.full(len(at), self._top)))

        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            series = np.asarray(chebinterpolate(log_sum, SERIES_NODES - 1))
        return series if np.abs(series[-2:]).max() < SERIES_LEFT else None

    def _added_up(self, shape: Array, log_scale: Array) -> Array:
        out = np.zeros(len(shape))
        b, x = shape[:, None], log_scale[:, None]
        for y, w in _pieces(self.ends, self.end_weight):
            out += np.exp(b * (y - x)) @ w
        for y, w in _pieces(self.entries, self.entry_weight):
            out -= np.exp(b * (y - x)) @ w
        return out


def _pieces(*columns: Array) -> Iterator[tuple[Array, ...]]:
    """Yield a few rows at a time: their table by directions then stays near the processor."""
    for i in range(0, len(columns[0]), ROWS):
        yield tuple(c[i : i + ROWS] for c in columns)
