"""The likelihood ratio of a changed rate, given how many failures there were in all.

Each failure lies after a date with a share of its own, what was at risk there at its age. If the
rate was multiplied by f on that date, the odds of the share are f times as high. The likelihood
then hangs on how many lie after the date, and on all shares; a failure at an age that was reached
on one side only tells nothing (the partial likelihood of Cox 1972). Where all shares are one, the
number after the date is binomial.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.survival.change.shares import MonthShares, each_after

FACTORS = np.exp(np.concatenate([np.arange(-60, 0), np.arange(1, 101)]) * 0.1)
"""Factors among which the best is sought, 0.0025 to 22,000. Between two of them lies less than
0.002 of a log likelihood for each failure that compares."""

MOST_SHARES = 200_000
"""Failures times dates up to which each share is taken by itself."""

STEP, FARTHEST = 0.05, 25.0
"""Steps of log odds by which more shares than these are counted, and how far they go."""

ERROR = STEP**3 / 249
"""By how much a log of a share that is counted so is off at most."""

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
        `MOST_SHARES` shares to `ERROR` for each failure.
    """
    s = np.asarray(share, dtype=np.float64)
    tried = with_one(factors)
    return _table(sums_after(s, tried), np.log(tried), len(s))


def _table(rest: Array, log_f: Array, k: int) -> Array:
    number = np.arange(k + 1.0)
    return np.array([_best(sums, log_f, number) for sums in rest]).reshape(len(rest), k + 1)


def ratio_at(share: ArrayLike, after: ArrayLike, factors: ArrayLike = FACTORS) -> Array:
    """Return `ratio_by_count` at some numbers only: of many failures most are never asked for.

    Parameters
    ----------
    share : (k, d) float
        Share after each of d dates, of each of k failures.
    after : (n, d) int
        Failures after each date.
    factors : (f,) float
        Among which the best is sought, besides 1.

    Returns
    -------
    (n, d) float
    """
    s = np.asarray(share, dtype=np.float64)
    tried = with_one(factors)
    return best_at(sums_after(s, tried), tried, np.asarray(after), len(s))


def best_at(rest: Array, tried: Array, number: Array, k: int) -> Array:
    """Return (n, d) what `ratio_at` does, from the sums (d, f) of `sums_after` over k failures."""
    log_f = np.log(tried)
    if k < len(number):
        return np.asarray(_table(rest, log_f, k)[np.arange(len(rest)), number])
    out = np.empty(number.shape)
    for date, sums in enumerate(rest):
        out[:, date] = _best(sums, log_f, number[:, date])
    return out


def with_one(factors: ArrayLike) -> Array:
    """Return the factors rising, 1 among them."""
    return np.union1d(np.asarray(factors, dtype=np.float64), [1.0])


def sums_of_months(shares: MonthShares, factors: Array) -> Array:
    """Return `sums_after` of failures by month; what is counted of many is counted once."""
    if shares.share[:, 1:].size <= MOST_SHARES:
        return sums_after(shares.share_after(), factors)
    counted = kept(shares, "log odds", lambda: count_odds(each_after(shares))[::-1])
    return sums_of(counted, factors)


def sums_after(share: Array, factors: Array) -> Array:
    """Return (d, f) what `log_sums` does, of more than `MOST_SHARES` to `ERROR` each."""
    if share.size <= MOST_SHARES:
        return log_sums(share, factors).T
    return sums_of(count_odds(np.ascontiguousarray(share.T)), factors)


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
        part = np.ascontiguousarray(share[at : at + rows])
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


def count_odds(share: Iterable[Array]) -> Array:
    """Return shares after each of d dates, (k,) each, counted by their log odds for `sums_of`.

    Returns
    -------
    (d, 3 g) float
        At each of g steps of log odds the shares that lie nearest, then the sums of what they lie
        beside it, then half of those of its squares.
    """
    g = int(2 * FARTHEST / STEP) + 1
    counted = []
    for s in share:
        with np.errstate(divide="ignore"):
            u = np.log(s / (1.0 - s))
        beside = np.clip(u, -FARTHEST, FARTHEST, out=u)
        at = np.rint((u + FARTHEST) / STEP).astype(np.int64)
        beside -= at * STEP - FARTHEST
        moments = (None, beside, 0.5 * beside * beside)
        counted.append(np.concatenate([np.bincount(at, w, g) for w in moments]))
    return np.array(counted).reshape(-1, 3 * g)


def sums_of(counted: Array, factors: Array) -> Array:
    """Return (d, f) what `log_sums` does, of many failures, counted by `count_odds`.

    The log of 1 + s (f - 1) is ``log(1 + f exp(u)) - log(1 + exp(u))`` at log odds u, whose third
    derivative in u is at most twice ``1 / sqrt(108)``: its series of three terms about a step is
    off by no more than `ERROR`. The sum over failures is convex in log f, so that the best factor
    rises with the number after the date.
    """
    odds = np.exp(np.linspace(-FARTHEST, FARTHEST, counted.shape[1] // 3))[:, None]
    more = odds * factors
    chance, changed = odds / (1.0 + odds), more / (1.0 + more)
    series = (
        np.log1p(more) - np.log1p(odds),
        changed - chance,
        changed * (1.0 - changed) - chance * (1.0 - chance),
    )
    return np.asarray(counted @ np.concatenate(series))


def _best(sums: Array, log_f: Array, number: Array) -> Array:
    """Return (n,) the greatest ``number log f - sums`` over factors, 0 or more, at one date.

    The sums over failures, (f,), are convex in log f, so that the best factor rises with the
    number.
    """
    turns = np.diff(sums) / np.diff(log_f)
    best = np.searchsorted(np.maximum.accumulate(turns), number)
    return np.asarray(np.maximum(number * log_f[best] - sums[best], 0.0))


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
