"""What a scan could have seen: the chance of a flag had the rate been multiplied a year ago."""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.survival.change.ratio import likelihood_ratio

WANTED = 0.8
"""Chance with which a change should be seen; a convention of planning trials."""

MOST_AFTER = 400
"""Failures after a change beyond which the search for enough of them stops."""


@value
class Power(Value):
    """What a change of a subject would have shown.

    Parameters
    ----------
    factor : float
        By which the rate would have been multiplied.
    chance : float
        Chance that the scan would have flagged it, had it come a year ago.
    needed : int or None
        Failures expected after such a change from which on that chance is `WANTED`; None where
        too few came before for any number to do.
    """

    factor: float
    chance: float
    needed: int | None


def change_power(before: float, after: float, factor: float, critical: float) -> Power:
    """Return what a change would have shown.

    Parameters
    ----------
    before, after : float
        Failures expected before the date and after it, were there no change.
    factor : float
        Above 1.
    critical : float
        The log likelihood ratio that flags.
    """
    seen = _chance(before, factor * after, after, critical)
    low, high = 0, MOST_AFTER
    enough = _chance(before, float(high), high / factor, critical) >= WANTED
    while enough and high - low > 1:
        middle = (low + high) // 2
        if _chance(before, float(middle), middle / factor, critical) >= WANTED:
            high = middle
        else:
            low = middle
    return Power(factor=factor, chance=seen, needed=high if enough else None)


def _chance(before: float, mean: float, after: float, critical: float) -> float:
    """Return the chance that the ratio at the date itself flags a rise."""
    if before + after <= 0.0:
        return 0.0
    share = after / (before + after)
    n0, n1 = _counts(before), _counts(mean)
    # the more come after the date of as many before, the greater is the ratio of a rise
    first = _first_hits(n0, n1, share, critical)
    beyond = np.append(np.cumsum(_poisson(n1, mean)[::-1])[::-1], 0.0)
    return float(_poisson(n0, before) @ beyond[first])


def _first_hits(n0: Array, n1: Array, share: float, critical: float) -> Array:
    """Return the place of the first count after the date that flags, for each count before it.

    ``len(n1)`` where none does; both counts rise.
    """
    low, high = np.zeros(len(n0), dtype=np.int64), np.full(len(n0), len(n1))
    while (low < high).any():
        middle = (low + high) // 2
        k = n1[np.minimum(middle, len(n1) - 1)]
        total = n0 + k
        hit = (likelihood_ratio(k, total, share) >= critical) & (k > total * share)
        hit |= middle >= len(n1)
        low, high = np.where(hit, low, middle + 1), np.where(hit, middle, high)
    return low


def _counts(mean: float) -> Array:
    """Return the counts that matter of a Poisson law."""
    spread = 8.0 * np.sqrt(mean) + 12.0
    return np.arange(max(0, int(mean - spread)), int(mean + spread), dtype=np.float64)


def _poisson(n: Array, mean: float) -> Array:
    from scipy.special import gammaln, xlogy

    return np.asarray(np.exp(xlogy(n, mean) - mean - gammaln(n + 1.0)))
