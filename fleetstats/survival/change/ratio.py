"""The likelihood ratio of a changed rate, given how many failures there were in all.

Each failure lies after a date with a share of its own, what was at risk there at its age. If the
rate was multiplied by f on that date, the odds of the share are f times as high. The likelihood
then hangs on how many lie after the date, and on all shares; a failure at an age that was reached
on one side only tells nothing (the partial likelihood of Cox 1972). Where all shares are one, the
number after the date is binomial.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array

FACTORS = np.exp(np.concatenate([np.arange(-60, 0), np.arange(1, 101)]) * 0.1)
"""Factors among which the best is sought, 0.0025 to 22,000. Between two of them lies less than
0.002 of a log likelihood for each failure that compares."""

MOST_SHARES = 200_000
"""Failures times dates up to which each share is taken by itself."""

STEP, FARTHEST = 0.01, 25.0
"""Steps of log odds at which more shares than these are counted, and how far they go."""

RISES = FACTORS[FACTORS > 1.0]

AT_A_TIME = 65_536
"""Shares that are taken together; it bounds memory."""

MULTIPLIED = 16
"""Terms that are multiplied before one logarithm is taken; their product stays a number."""

MOST_MULTIPLIED = 1e9
"""Factors, or one over them, up to which that is so."""


def ratio_by_count(share: ArrayLike, factors: ArrayLike = FACTORS) -> Array:
    """Return the log likelihood ratio at the best factor, for each number after each date.

    Parameters
    ----------
    share : (k, d) float
        Share after each of d dates, of each of k failures.
    factors : (f,) float
        Among which the best is sought, besides 1.

    Returns
    -------
    (d, k + 1) float
        0 or more: ``max_f (n log f - sum_k log(1 + s_k (f - 1)))`` for n = 0 to k; of more than
        `MOST_SHARES` shares to `STEP**2 / 32` for each failure.
    """
    s = np.asarray(share, dtype=np.float64)
    tried = np.union1d(np.asarray(factors, dtype=np.float64), [1.0])
    rest = _sums_of_many(s, tried) if s.size > MOST_SHARES else log_sums(s, tried).T
    return _best_by_count(rest, np.log(tried), len(s))


def log_sums(share: Array, factors: Array) -> Array:
    """Return the logs of the chances that the shares after dates sum to at other odds.

    Parameters
    ----------
    share : (k, d) float
        Share after each of d dates, of each of k failures.
    factors : (f,) float
        By which their odds are multiplied.

    Returns
    -------
    (f, d) float
        Sums over the failures of ``log(1 + s (f - 1))``: most of the work is the logarithm, and
        that of a product of some terms is the sum of theirs but for rounding.
    """
    k, d = share.shape
    out = np.zeros((len(factors), d))
    together = MULTIPLIED if _all_within(factors, MOST_MULTIPLIED) else 1
    rows = max(AT_A_TIME // max(d, 1) // together, 1) * together
    for at in range(0, k, rows):
        part = share[at : at + rows]
        whole = len(part) // together * together
        terms = np.empty_like(part)
        for i, f in enumerate(factors.tolist()):
            np.multiply(part, f - 1.0, out=terms)
            terms += 1.0
            n = whole
            while n > whole // together:
                n //= 2
                terms[:n] *= terms[n : 2 * n]
            out[i] += np.log(terms[:n]).sum(axis=0) + np.log(terms[whole:]).sum(axis=0)
    return out


def _all_within(factors: Array, most: float) -> bool:
    return bool(np.all((factors <= most) & (factors >= 1.0 / most)))


def _sums_of_many(share: Array, factors: Array) -> Array:
    """Return (d, f) what `log_sums` does, of many failures, counted by their log odds.

    The log of 1 + s (f - 1) is ``log(1 + f exp(u)) - log(1 + exp(u))`` at log odds u, whose second
    derivative in u is at most a quarter: between points `STEP` apart a straight line is off by no
    more than ``STEP**2 / 32``. The sum over failures is convex in log f, so that the best factor
    rises with the number after the date.
    """
    d = share.shape[1]
    u = np.arange(-FARTHEST, FARTHEST + STEP / 2, STEP)
    counted = np.zeros((d, len(u)))
    for date, s in enumerate(np.ascontiguousarray(share.T)):
        with np.errstate(divide="ignore"):
            at = (np.clip(np.log(s) - np.log1p(-s), -FARTHEST, FARTHEST) + FARTHEST) / STEP
        below = np.minimum(at.astype(np.int64), len(u) - 2)
        part = at - below
        counted[date] = np.bincount(below, 1.0 - part, len(u))
        counted[date] += np.bincount(below + 1, part, len(u))
    odds = np.exp(u)
    log_one = np.log1p(np.multiply.outer(odds, factors)) - np.log1p(odds)[:, None]
    return np.asarray(counted @ log_one)


def _best_by_count(rest: Array, log_f: Array, k: int) -> Array:
    """Return (d, k + 1) the greatest ``n log f - rest`` over factors, 0 or more, for n = 0 to k.

    The sums over failures, (d, f), are convex in log f, so that the best factor rises with n.
    """
    number = np.arange(k + 1.0)
    out = np.empty((len(rest), k + 1))
    for date, sums in enumerate(rest):
        turns = np.diff(sums) / np.diff(log_f)
        best = np.searchsorted(np.maximum.accumulate(turns), number)
        out[date] = number * log_f[best] - sums[best]
    return np.maximum(out, 0.0, out=out)  # of many failures a second one would not fit


def likelihood_ratio(after: ArrayLike, total: ArrayLike, share: ArrayLike) -> Array:
    """Return the log of the likelihood at the best factor over that at 1, all shares one.

    Parameters
    ----------
    after, total : float, of one shape
        Failures after the date, and in all.
    share : float, of the same shape
        Share of what was expected that lies after the date, within 0 to 1.

    Returns
    -------
    float, of the same shape
        0 or more, in natural units: ``k log(k / (n s)) + (n - k) log((n - k) / (n (1 - s)))``,
        the binomial's deviance halved.
    """
    from scipy.special import xlogy

    k, n, s = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (after, total, share)))
    safe = np.clip(s, 1e-300, 1.0)
    rest = np.clip(1.0 - s, 1e-300, 1.0)
    whole = np.maximum(n, 1e-300)
    before, beyond = np.maximum(whole * rest, 1e-300), np.maximum(whole * safe, 1e-300)
    told = xlogy(k, k / beyond) + xlogy(n - k, (n - k) / before)
    return np.asarray(np.maximum(told, 0.0))


def rise_only(after: ArrayLike, total: ArrayLike, share: ArrayLike) -> Array:
    """Return `likelihood_ratio` where more came than expected after the date, else 0."""
    k, n, s = (np.asarray(x, dtype=np.float64) for x in (after, total, share))
    return np.asarray(np.where(k > n * s, likelihood_ratio(k, n, s), 0.0))
