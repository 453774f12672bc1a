"""How great must the ratio be, at any time of a watch, before nothing-changed explains it no more?

A watch looks at its failures whenever one comes, and at every date on which the new rate may have
begun since. The bound below is passed at any time of it with at most the stated chance while
nothing changes, whatever the rate is: with the baseline's count and the watch's both drawn at that
rate, so that the doubt of a baseline without a failure is in it.
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.survival.change.ratio import rise_only

SHORTEST = 1.0 / 12.0
"""Least share of the watch over which a new rate is looked for: a month of a year. A failure's own
day would have no exposure at all."""

CHANCES = (0.05, 0.01, 0.002)
"""Chances of a false alarm over the watch for which the bound was simulated."""

BOUNDS = (5.85, 7.85, 9.75)
"""Log likelihood ratios passed with those chances, by ``python tests/tools/watch_boundary.py``: the
worst of baselines that expect between 0.1 and 400 failures, watches up to 30 and up to four times
the baseline."""

FEW_BEFORE = ((0.2, 1.6), (1.0, 0.8))
"""Watches up to so much of the baseline, and how much less the bound may be after a baseline
without a failure. A rate that leaves none before seldom brings a cluster after."""

FADES = 3.0
"""Failures of the baseline over which that allowance falls to a third (1 / e)."""


def boundary(chance: float, before: float, ratio: float) -> float:
    """Return the log likelihood ratio that a watch passes by chance with at most `chance`.

    Parameters
    ----------
    chance : float
        Of a false alarm over the whole watch, above 0; 0.05 stands for anything above it.
    before : float
        Failures of the baseline.
    ratio : float
        Failures expected over the whole watch for each one expected in the baseline.

    Raises
    ------
    FitError
        If `chance` or `ratio` is not positive.

    Notes
    -----
    Below the least chance simulated the bound rises by the log of the chance: each single look
    passes c with a chance of at most ``exp(-c)`` (Chernoff 1952).
    """
    if not (chance > 0.0 and ratio > 0.0 and math.isfinite(ratio)):
        raise FitError(
            f"A watch with chance {chance:g} over {ratio:g} of its baseline.",
            "Both are positive.",
        )
    less = next((x for most, x in FEW_BEFORE if ratio <= most), 0.0)
    if chance < CHANCES[-1]:
        at = BOUNDS[-1] + math.log(CHANCES[-1] / chance)
    else:
        at = float(np.interp(-math.log(chance), [-math.log(c) for c in CHANCES], BOUNDS))
    return at - less * math.exp(-before / FADES) + math.log(max(1.0, ratio / LONGEST))


LONGEST = 4.0
"""Watch over baseline up to which the bound was simulated; beyond, it rises by the log."""


def greatest_ratio(before: Array, at: Array, ratio: float) -> tuple[Array, Array]:
    """Return the greatest ratio at each failure of a watch, and where its new rate begins.

    Parameters
    ----------
    before : (b,) float
        Failures of the baseline, one for each fleet.
    at : (b, k) float
        When failures of the watch came, in failures expected for each one of the baseline, rising;
        infinite where there are no more.
    ratio : float
        The whole watch on that scale.

    Returns
    -------
    told : (b, k) float
        At each failure, the greatest ratio over the dates of earlier failures of the watch.
    first : (b, k) int
        Number of the failure with which the new rate would begin.
    """
    told = np.zeros(at.shape)
    first = np.zeros(at.shape, dtype=np.int64)
    least = SHORTEST * ratio
    for i in range(at.shape[1]):
        rows = np.flatnonzero(np.isfinite(at[:, i]))
        if not len(rows):
            break
        now = np.maximum(at[rows, i], least)[:, None]
        start = np.minimum(at[rows, : i + 1], now - least)
        after = i + 1.0 - np.arange(i + 1)
        each = rise_only(after[None, :], before[rows, None] + i + 1.0, (now - start) / (1.0 + now))
        best = each.argmax(axis=1)
        told[rows, i] = each[np.arange(len(rows)), best]
        first[rows, i] = best
    return told, first


def simulate_watch(
    mean: float, ratio: float, n: int, *, seed: int, factor: float = 1.0
) -> tuple[Array, Array]:
    """Return fleets of a baseline that expects `mean` failures, and their watch.

    Parameters
    ----------
    mean : float
        Failures expected in the baseline.
    ratio : float
        Whole watch on the scale of the baseline.
    n : int
        Fleets.
    seed : int
        Of the draws.
    factor : float
        By which the rate is multiplied from the watch's first day on.

    Returns
    -------
    before : (n,) float
        Failures of the baselines.
    at : (n, k) float
        Of the watches, as `greatest_ratio` takes them.
    """
    rng = stream(seed, f"watch-{mean:g}-{ratio:g}-{factor:g}")
    before = rng.poisson(mean, n).astype(float)
    count = rng.poisson(mean * ratio * factor, n)
    most = max(1, int(count.max()))
    at = np.where(np.arange(most) < count[:, None], ratio * rng.random((n, most)), np.inf)
    return before, np.sort(at, axis=1)
