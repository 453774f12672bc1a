"""What records are worth in whole lives, if the Weibull shape is known.

A spell from e to t hours tests as much as ((t/T)^shape - (e/T)^shape) engines run from new to T
hours: the cumulative hazard over it, in units of that of one whole life to T. Their sum, the
*equivalents* N, turns every fleet into a success run of N engines to T:

    at confidence C, R(T) >= exp(-m / N),   m = the one-sided upper C bound of a Poisson mean
                                            after r failures, chi-square_{C; 2r+2} / 2

(Nelson 1985, known-shape bound; IEC 61649:2008 treats the method; with N engines all run to T and
r = 0 it is the success run R^N = 1 - C.) Writing ages as shares of T keeps the sums in range for
any shape and any unit of hours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array
from fleetstats.spells import Spells


def poisson_allowance(n_failed: float, confidence: float) -> float:
    """Return the upper bound of a Poisson mean, one-sided, after `n_failed` events.

    ``chi-square_{confidence; 2 n_failed + 2} / 2`` (Garwood 1936). 0 failures at 95 %: 2.996.
    """
    from scipy.special import gammaincinv

    return float(gammaincinv(n_failed + 1.0, confidence))


def life_equivalents(spells: Spells, shapes: ArrayLike, hours: float) -> Array:
    """Return (k,) equivalents: whole lives to `hours` that the spells are worth at each shape.

    A failure known only to an interval counts its hours to the last age known good, which can
    only make the bound more careful.
    """
    start, stop = spells.entry / hours, spells.exit_lower / hours
    out = [float((spells.weight * (stop**b - start**b)).sum()) for b in np.atleast_1d(shapes)]
    return np.array(out)


def exposure_past(spells: Spells, hours: float) -> float:
    """Return the engine hours seen beyond `hours`."""
    past = np.maximum(spells.exit_lower - np.maximum(spells.entry, hours), 0.0)
    return float((spells.weight * past).sum())


def failure_bound(equivalents: ArrayLike, allowance: float) -> Array:
    """Return the upper bound of the failure probability by the reference hours.

    1 where there are no equivalents at all.
    """
    n = np.asarray(equivalents, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.asarray(-np.expm1(-allowance / n))


def hours_shown(equivalents: float, allowance: float, reliability: float, *, shape: float) -> float:
    """Return the share of the reference hours up to which `reliability` is shown.

    Solves N (T/t)^shape = m / -ln R for t/T, N being the equivalents at T.
    """
    need = allowance / -np.log(reliability)
    return float((equivalents / need) ** (1.0 / shape))


def shape_grid(shapes: ArrayLike, n: int = 61) -> Array:
    """Return shapes from the least to the greatest of `shapes`, evenly spaced in their logarithm.

    A statement "for any shape from 1 to 4" has to hold between the shapes that a table lists.
    """
    low, high = float(np.min(shapes)), float(np.max(shapes))
    return np.unique(np.concatenate([np.geomspace(low, high, n), np.atleast_1d(shapes)]))


def failures_within(hazards: float, n_failed: float, confidence: float) -> int:
    """Return how many further failures keep the allowance at most `hazards`; -1 if none do.

    Doubles, then halves, so that a fleet worth any number of lives is answered at once.
    """

    def within(k: int) -> bool:
        return poisson_allowance(n_failed + k, confidence) <= hazards

    if not within(0):
        return -1
    low, high = 0, 1
    while within(high):
        low, high = high, 2 * high
        if high > 2**50:  # beyond what a count of engines can mean
            return high
    while high - low > 1:
        mid = (low + high) // 2
        low, high = (mid, high) if within(mid) else (low, mid)
    return low


def hidden_to_break(equivalents: float, n_failed: float, confidence: float, accepted: float) -> int:
    """Return the least number of further failures with which the bound passes `accepted`.

    0: the bound passes it already. The failures add no equivalents.
    """
    hazards = float(-np.log1p(-accepted) * equivalents)
    return failures_within(hazards, n_failed, confidence) + 1


def reporting_share(
    equivalents: float, n_failed: float, confidence: float, accepted: float
) -> float:
    """Return the share of failures that must be reported for `accepted` to hold.

    If only a share q of failures is reported, counts are Poisson with mean q Λ, so the bound on Λ
    is m / q (thinning; Oh & Bai 2001): q = m / [N (-ln(1 - accepted))]. Above 1: not shown even if
    all are reported.
    """
    return float(poisson_allowance(n_failed, confidence) / (-np.log1p(-accepted) * equivalents))
