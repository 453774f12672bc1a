"""Profile limits of a log hazard ratio, from the partial likelihood with the others at their best.

The partial likelihood is log-concave, so that its profile falls on both sides without end and each
limit exists where the maximum does (Cox & Oakes 1984, chapter 7, from memory).
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.survival.parameter import profile_drop, walk_out
from fleetstats.survival.regression.partial_climb import Parts, climb_partial

LIMITS = ("normal", "profile")
"""How limits of a ratio are made: from the standard error, or from the likelihood itself."""

FARTHEST = 60.0
"""Standard errors past which no limit is looked for."""


def limit_ratios(
    parts: Parts, best: Array, covariance: Array, level: float, limits: str
) -> tuple[Array, Array]:
    """Return low and high (k,) of the coefficients, by one of `LIMITS`; NaN where there is none.

    Parameters
    ----------
    parts : callable
        The partial likelihood at coefficients (k,).
    best : (k,) float
        Where it is greatest.
    covariance : (k, k) float
        Inverse of the information there.
    level : float
        Two-sided.
    limits : {"normal", "profile"}
        From the covariance, or from the partial likelihood itself.
    """
    spread, drop = np.sqrt(np.diag(covariance)), profile_drop(level)
    if limits == "normal":
        reach = math.sqrt(2.0 * drop) * spread
        return best - reach, best + reach
    top = parts(best)[0]
    edges = np.array(
        [
            [_edge(parts, best, covariance, j, sign, top - drop) for sign in (-1.0, 1.0)]
            for j in range(len(best))
        ]
    )
    return edges[:, 0], edges[:, 1]


def _edge(parts: Parts, best: Array, covariance: Array, j: int, sign: float, floor: float) -> float:
    spread = math.sqrt(covariance[j, j])
    along = covariance[j] / covariance[j, j]  # where the others go as this one moves

    def short(b: float) -> float:
        return floor - _held(parts, best + along * (b - best[j]), j)

    found = walk_out(
        short, float(best[j]), sign, step=1.5 * spread, farthest=FARTHEST * spread,
        xtol=1e-9 * spread,
    )  # fmt: skip
    return math.nan if found is None else found


def _held(parts: Parts, coef: Array, j: int) -> float:
    """Return the greatest partial log-likelihood with coefficient `j` as it stands in `coef`."""
    top = climb_partial(parts, coef, held=j)
    if top is None:
        raise FitError(
            "The profile of a hazard ratio found no maximum.",
            "Two covariates that say the same would do that; ask for limits='normal'.",
        )
    return top[1]
