"""How a stated chance of error is shared out over planned looks.

A spending function says how much of the chance may be used up by each share of the information that
the last look will have; what a look may use is the difference to the look before, and its boundary
is worked out from the information so far alone (Lan & DeMets 1983). So neither the number nor the
spacing of the looks need be known beforehand, and the chance of ever being wrong stays as stated.

The information at the last look is not known in the middle of a plan. It is carried on as it grew:
``I(K) = I(k) (K / k)^g``, g read from the information at the looks so far, and taken as `GROWTH`
while there is none to read. A wrong guess spends sooner or later than it might, never more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fleetstats.bands.looks.crossing import POINTS, Paths, growing
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value, value

GROWTH = 4.0
"""Power of the number of looks with which information is taken to grow, while nothing is known of
it: engines join evenly and wear out. Where it grows more slowly, looks are more alike than taken,
which can only make the levels more careful."""

LEAST_GROWTH, MOST_GROWTH = 1.0, 8.0
"""Between what the growth read from earlier looks is held."""

KEPT_BACK = 0.1
"""Share of the chance that is spread evenly over the looks, so that an early look at a fleet that
fails far too often is not mute (as Haybittle 1971 and Peto and others 1976 do with 0.001)."""


def spent_by(kind: str, share: float, alpha: float) -> float:
    """Return the chance that a spending function lets be used by a share of the information.

    Parameters
    ----------
    kind : {"late", "even"}
        The functions of Lan & DeMets 1983 that come near the boundaries of O'Brien & Fleming 1979,
        ``2 - 2 Phi(z / sqrt(share))``, and of Pocock 1977, ``alpha log(1 + (e - 1) share)``.
    share : float
        Information so far over that of the last look, from 0 to 1.
    alpha : float
        One-sided chance of error over all looks.

    Raises
    ------
    BandError
        If there is no such function.
    """
    from scipy.special import ndtr, ndtri

    t = min(max(share, 0.0), 1.0)
    if kind == "late":
        return 0.0 if t == 0.0 else float(2.0 * ndtr(ndtri(0.5 * alpha) / np.sqrt(t)))
    if kind == "even":
        return float(alpha * np.log1p((math.e - 1.0) * t))
    raise BandError(f"Spending function '{kind}'.", "Use one of late, even.")


def deviates_of(information: Sequence[float], spent: Sequence[float]) -> Array:
    """Return (k,) deviates that use up the chances `spent` (k,) by each look, and no more.

    Examples
    --------
    The last of five equal looks under the late function at one-sided 2.5 % (Lan & DeMets 1983):

    >>> from fleetstats.bands.looks.spending import deviates_of, spent_by
    >>> looks = [1, 2, 3, 4, 5]
    >>> z = deviates_of(looks, [spent_by("late", k / 5, 0.025) for k in looks])
    >>> z.round(2).tolist()
    [4.88, 3.36, 2.68, 2.29, 2.03]
    """
    return _deviates(growing(information), np.asarray(spent, dtype=np.float64), POINTS)


def _deviates(information: Array, spent: Array, points: int) -> Array:
    paths, before, out = Paths.start(), 0.0, np.empty(len(information))
    for i, at in enumerate(information):
        out[i] = paths.deviate_for(float(at), float(spent[i]) - before)
        before = max(before, float(spent[i]))
        if i + 1 < len(information):
            paths = paths.survive(float(at), float(out[i]), points=points)
    return out


@value
class Allotted(Value):
    """What each look so far of a plan was given.

    Parameters
    ----------
    share : (k,) float
        Information over that expected at the last look, as guessed at each look.
    spent : (k,) float
        One-sided chance of error used up by each look.
    level : (k,) float
        One-sided level at which the look may say its word.
    """

    share: Array
    spent: Array
    level: Array


def growth_of(information: Sequence[float]) -> float:
    """Return the power of the number of looks with which information grew.

    Read between the middle look and the last: the first ones hold next to nothing.
    """
    k = len(information)
    middle = (k + 1) // 2
    if k < 2 or information[middle - 1] <= 0.0 or information[-1] <= 0.0:
        return GROWTH
    rise = np.log(information[-1] / information[middle - 1]) / np.log(k / middle)
    return float(min(max(float(rise), LEAST_GROWTH), MOST_GROWTH))


def allot(
    information: Sequence[float],
    planned: int,
    *,
    alpha: float,
    kind: str = "late",
    points: int = POINTS,
) -> Allotted:
    """Share a chance of error out over the looks so far of a plan.

    The share of a look depends on that look and those before it only, so that a plan worked out
    anew each year allots the earlier looks what they had.

    Parameters
    ----------
    information : (k,) float
        Failures expected at each look so far if the claim were exactly at its limit.
    planned : int
        Looks planned, at least k.
    alpha : float
        One-sided chance of error over all looks, in (0, 0.5).
    kind : str
        As for `spent_by`.
    points : int
        Points of the grid, odd.

    Raises
    ------
    BandError
        If there is no look, or more than planned, or alpha is none.

    Examples
    --------
    >>> from fleetstats.bands.looks.spending import allot
    >>> allot([3.0], 1, alpha=0.05).level.round(3).tolist()
    [0.05]
    >>> allot([5, 10, 15, 20], 4, alpha=0.05).level.round(4).tolist()
    [0.0012, 0.0048, 0.0217, 0.0426]
    """
    k = len(information)
    if not 0 < k <= planned:
        raise BandError(f"{k} looks of {planned} planned.", "Give 1 to as many as are planned.")
    if not 0.0 < alpha < 0.5:
        raise BandError(f"One-sided chance of error {alpha}.", "Use a number from 0 to 0.5.")
    from scipy.special import ndtr

    step = KEPT_BACK * alpha / planned
    share, spent = np.empty(k), np.empty(k)
    before = 0.0
    for j in range(1, k + 1):
        t = (j / planned) ** growth_of(information[:j])
        most = alpha - (planned - j) * step
        share[j - 1] = t
        spent[j - 1] = before = min(max(spent_by(kind, t, alpha), before + step), most)
    spent[k - 1] = alpha if k == planned else spent[k - 1]
    z = _deviates(growing(information), spent, points)
    return Allotted(share=share, spent=spent, level=np.minimum(ndtr(-z), alpha))


def spread_evenly(looks: int, planned: int) -> tuple[float, ...]:
    """Return information at looks of which nothing is known, that of the last planned being 1."""
    return tuple(float((j / planned) ** GROWTH) for j in range(1, looks + 1))
