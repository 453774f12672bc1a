"""The joint likelihood region of shape and scale, as a closed line for a picture.

Two groups whose regions lie apart differ in shape, scale or both; overlapping regions prove
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array, Value, frozen_array
from fleetstats.survival.accelerated import Problem
from fleetstats.survival.fit import Fit
from fleetstats.survival.varying_shape import log_likelihood_by_row

DIRECTIONS = 96
_FARTHEST = 40.0  # times the radius of the normal approximation: the region counts as open


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    scale_h: Array
    shape: Array
    is_open: bool

    def __post_init__(self) -> None:
        for f in ("scale_h", "shape"):
            object.__setattr__(self, f, frozen_array(getattr(self, f)))


def estimate_joint_region(fit: Fit, *, level: float = 0.90) -> JointRegion:
    """Return the edge where twice the log-likelihood has fallen by chi-square(level; 2).

    Parameters
    ----------
    fit : Fit
        A Weibull fit.
    level : float
        Joint confidence.

    References
    ----------
    .. [1] Meeker, Escobar & Pascual (2021). Statistical Methods for Reliability Data, section 8.3.
    """
    drop = -math.log1p(-level)  # half of the chi-square quantile with two degrees of freedom
    problem = Problem.of(fit.spells)
    n = len(fit.spells)
    centre = np.log([fit.shape, fit.scale_h])
    cov = fit.covariance / np.outer(fit.estimate, fit.estimate)
    axes = np.linalg.cholesky(0.5 * (cov + cov.T))
    angle = np.linspace(0.0, 2.0 * math.pi, DIRECTIONS + 1)
    ray = axes @ np.vstack([np.cos(angle), np.sin(angle)])

    def fall(radius: float, k: int) -> float:
        b, x = centre + radius * ray[:, k]
        row = np.full(n, x - math.log(problem.unit_h))
        with np.errstate(over="ignore"):
            value = log_likelihood_by_row(problem, row, np.full(n, math.exp(b)))
        return fit.log_likelihood - value - drop if math.isfinite(value) else math.inf

    radius = np.array([_reach(fall, k, math.sqrt(2.0 * drop)) for k in range(DIRECTIONS)])
    radius = np.append(radius, radius[0])
    edge = np.exp(centre[:, None] + radius * ray)
    return JointRegion(
        level=level, shape=edge[0], scale_h=edge[1], is_open=bool(np.isnan(radius).any())
    )


def _reach(fall: Callable[[float, int], float], k: int, start: float) -> float:
    from scipy import optimize

    low, high = 0.0, start
    while fall(high, k) < 0.0:
        low, high = high, 1.5 * high
        if high > _FARTHEST * start:
            return math.nan
    while not math.isfinite(fall(high, k)):
        high = 0.5 * (low + high)
        if fall(high, k) < 0.0:
            low, high = high, 2.0 * high
    return float(optimize.brentq(fall, low, high, args=(k,), xtol=1e-6))
