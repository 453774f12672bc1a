"""Two failure rates compared exactly, given how many failures there were in all.

Two Poisson counts k and k0 over exposures t and t0: given their sum, k is binomial with share
``rate t / (rate t + rate0 t0)`` whatever the rates themselves are. That makes the test and the
limits of the ratio exact for any count, small ones included (Przyborowski & Wilenski 1940; limits
by Clopper & Pearson 1934 of the share, turned into a ratio).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.gate import AMOUNT, LEVEL, POSITIVE, PROBABILITIES_ENDS, gate
from fleetstats.core.value import Array, Value, value


@value
class RateRatio(Value):
    """A rate over another.

    Parameters
    ----------
    count, count0 : float
        Failures of the two.
    exposure, exposure0 : float
        What they are over: hours, or failures expected if both were alike.
    ratio : float or None
        Rate over rate0; None where neither had a failure, infinite where only the first had.
    low, high : float or None
        Exact limits at two-sided `level`; None where there is no limit.
    p_greater : float
        Chance of so many of the failures in the first, or more, if the rates are the same.
    level : float
    """

    count: float
    count0: float
    exposure: float
    exposure0: float
    ratio: float | None
    low: float | None
    high: float | None
    p_greater: float
    level: float


@gate(count=AMOUNT, exposure=POSITIVE, count0=AMOUNT, exposure0=POSITIVE, level=LEVEL)
def compare_rates(
    count: float, exposure: float, count0: float, exposure0: float, *, level: float = 0.90
) -> RateRatio:
    """Compare a rate with another, exactly.

    Parameters
    ----------
    count, exposure : float
        Failures of the first and what they are over; exposure is positive.
    count0, exposure0 : float
        The same of the second.
    level : float
        Two-sided confidence of the limits of the ratio.

    Returns
    -------
    RateRatio
        Ratio with exact limits, and the chance of so many failures in the first if both are alike.

    Raises
    ------
    ArgumentError
        If an exposure is not positive, a count negative, or the level outside 0 to 1.

    References
    ----------
    Przyborowski & Wilenski (1940), Biometrika 31, 313-323. Clopper & Pearson (1934), Biometrika 26,
    404-413.

    Examples
    --------
    >>> import fleetstats as fs
    >>> told = fs.compare_rates(3, 1000, 5, 4000)
    >>> told.ratio, round(told.low, 2), round(told.high, 2)
    (2.4, 0.5, 9.83)
    """
    from scipy.special import betainc, betaincinv

    share = exposure / (exposure + exposure0)
    tail = 0.5 * (1.0 - level)
    scale = exposure0 / exposure
    ratio: float | None = None
    if count0 > 0:
        ratio = count / count0 * scale
    elif count > 0:
        ratio = math.inf
    low = high = None
    if count > 0:
        q = float(betaincinv(count, count0 + 1.0, tail))
        low = q / (1.0 - q) * scale
    elif count0 > 0:
        low = 0.0
    if count0 > 0:
        q = float(betaincinv(count + 1.0, count0, 1.0 - tail))
        high = q / (1.0 - q) * scale
    # P(X >= k) of a binomial of n is the incomplete beta at the share with k and n - k + 1
    p = float(betainc(count, count0 + 1.0, share)) if count > 0 else 1.0
    return RateRatio(
        count=count,
        count0=count0,
        exposure=exposure,
        exposure0=exposure0,
        ratio=ratio,
        low=low,
        high=high,
        p_greater=p,
        level=level,
    )


@gate(p=PROBABILITIES_ENDS)
def false_discovery(p: ArrayLike) -> Array:
    """Return (m,) values that, compared with a share, keep false alarms to that share.

    Those of the m with a value at or below q are called; if the tests are independent (or helped
    by each other), on average at most a share q of those called are false alarms (Benjamini &
    Hochberg 1995).

    Parameters
    ----------
    p : (m,) float
        Chances under "no change", each in [0, 1].

    Returns
    -------
    (m,) ndarray
        In the order of `p`; none below it.

    Raises
    ------
    ArgumentError
        If `p` is not such a list.

    References
    ----------
    Benjamini & Hochberg (1995), J. R. Statist. Soc. B 57, 289-300.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.false_discovery([0.01, 0.03, 0.04, 0.5]).round(3)
    array([0.04 , 0.053, 0.053, 0.5  ])
    """
    chance, order = _in_order(p)
    m = len(chance)
    stepped = chance[order] * m / np.arange(1, m + 1)
    out = np.empty(m)
    out[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    return out


def _in_order(p: ArrayLike) -> tuple[Array, Array]:
    """Return (m,) chances and their places, the least first."""
    chance = np.atleast_1d(np.asarray(p, dtype=np.float64))
    return chance, np.argsort(chance, kind="stable")


@gate(p=PROBABILITIES_ENDS)
def hold_over(p: ArrayLike) -> Array:
    """Return (m,) chances held over their number: below 5 %, any false alarm is 5 % at most.

    Each is the least share at which its test would be called if all m are looked at (Holm 1979),
    whatever depends on what.

    Parameters
    ----------
    p : (m,) float
        Chances under "no difference", each in [0, 1].

    Returns
    -------
    (m,) ndarray
        In the order of `p`; none below it, none above 1.

    Raises
    ------
    ArgumentError
        If `p` is not such a list.

    References
    ----------
    Holm (1979), Scand. J. Statist. 6, 65-70.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.hold_over([0.01, 0.03, 0.04, 0.5]).round(3)
    array([0.04, 0.09, 0.09, 0.5 ])
    """
    chance, order = _in_order(p)
    m = len(chance)
    out = np.empty(m)
    out[order] = np.minimum(np.maximum.accumulate(chance[order] * (m - np.arange(m))), 1.0)
    return out
