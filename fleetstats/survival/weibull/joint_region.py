"""The joint likelihood region of shape and scale, as a closed line for a picture.

Two groups whose regions lie apart differ in shape, scale or both; overlapping regions prove
nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.gate import LEVEL, gate
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT

DIRECTIONS = 96


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
    lives = _Rows.of(fit.spells)
    centre = np.log([fit.shape, fit.scale_h])
    cov = fit.covariance / np.outer(fit.estimate, fit.estimate)
    axes = np.linalg.cholesky(0.5 * (cov + cov.T))
    angle = np.linspace(0.0, 2.0 * math.pi, DIRECTIONS, endpoint=False)
    ray = axes @ np.vstack([np.cos(angle), np.sin(angle)])
    floor = lives.log_likelihood(centre[:1], centre[1:])[0] - drop

    def inside(radius: Array) -> Array:
        at = centre[:, None] + radius * ray
        return np.asarray(lives.log_likelihood(at[0], at[1]) > floor)

    start = math.sqrt(2.0 * drop)
    low, high = np.zeros(DIRECTIONS), np.full(DIRECTIONS, start)
    for _ in range(10):
        still = inside(high)
        if not still.any():
            break
        low, high = np.where(still, high, low), np.where(still, 1.5 * high, high)
    is_open = inside(high)
    for _ in range(30):
        middle = 0.5 * (low + high)
        within = inside(middle)
        low, high = np.where(within, middle, low), np.where(within, high, middle)
    radius = np.where(is_open, np.nan, 0.5 * (low + high))
    edge = np.exp(centre[:, None] + radius * ray)
    edge = np.concatenate([edge, edge[:, :1]], axis=1)
    return JointRegion(level=level, shape=edge[0], scale_h=edge[1], is_open=bool(is_open.any()))


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

    @classmethod
    def of(cls, spells: Spells) -> _Rows:
        c = spells.collapse()
        exact = c.failed & ~c.interval_known
        late = c.entry > 0
        with np.errstate(divide="ignore"):
            return cls(
                ends=np.log(c.exit_upper[~c.interval_known]),
                end_weight=c.weight[~c.interval_known],
                entries=np.log(c.entry[late]),
                entry_weight=c.weight[late],
                lower=np.log(c.exit_lower[c.interval_known]),
                upper=np.log(c.exit_upper[c.interval_known]),
                between_weight=c.weight[c.interval_known],
                n_exact=float(c.weight[exact].sum()),
                sum_log=float(c.weight[exact] @ np.log(c.exit_upper[exact])),
            )

    def log_likelihood(self, log_shape: Array, log_scale: Array) -> Array:
        """Return (m,) log-likelihoods, a constant left out."""
        shape, x = np.exp(log_shape)[:, None], log_scale[:, None]
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            out = -np.exp(shape * (self.ends - x)) @ self.end_weight
            out = out + np.exp(shape * (self.entries - x)) @ self.entry_weight
            a, b = np.exp(shape * (self.lower - x)), np.exp(shape * (self.upper - x))
            out = out + (np.log(-np.expm1(a - b)) - a) @ self.between_weight
        b1 = shape[:, 0]
        out = out + self.n_exact * (log_shape - b1 * log_scale) + b1 * self.sum_log
        return np.where(np.isnan(out), -np.inf, out)
