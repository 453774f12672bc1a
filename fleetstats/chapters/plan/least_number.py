"""The least number of engines with which a rising bound is not below its target, in few trials."""

from __future__ import annotations

import math
from collections.abc import Callable

Trial = tuple[float, float]
"""A number that was tried, and how far past the target the bound was with it."""


def least_number(beyond: Callable[[int], float], target: float, most: int) -> int | None:
    """Return the least k from 0 to `most` with ``beyond(k) >= 0``, which stays so once it is.

    None if not by `most`.

    Parameters
    ----------
    beyond : callable
        A reliability that rises with k, less its target; minus infinity where it is not asked.
    target : float
        Reliability.
    most : int
        Greatest number that is tried.

    Notes
    -----
    Chandrupatla (1997), Advances in Engineering Software 28, 145-149 (from memory): a parabola
    through the last three trials where it may be trusted, else the middle; here over whole numbers.
    The reciprocal of the cumulative hazard is followed, since engines that run on without a failure
    add up in it.
    """

    def worth(over: float) -> float:
        low = over + target
        return -1.0 / math.log(low) if 0.0 < low < 1.0 else math.nan

    asked = worth(0.0)
    shown = beyond(most)
    if shown < 0.0:
        return None
    now = beyond(0)
    if now >= 0.0:
        return 0
    low, high, share = 0, most, 0.5
    # the last trial, the last on the other side of the target, and the one before them
    a, b = (float(most), worth(shown) - asked), (0.0, worth(now) - asked)
    while high - low > 1:
        k = min(max(math.ceil(a[0] + share * (b[0] - a[0]) - 1e-9), low + 1), high - 1)
        over = beyond(k)
        was_high = a[0] >= high
        low, high = (low, k) if over >= 0.0 else (k, high)
        b, c = (b, a) if (over >= 0.0) == was_high else (a, b)
        a = (float(k), worth(over) - asked)
        share = _share(a, b, c)
    return high


def _share(last: Trial, other: Trial, before: Trial) -> float:
    """Return the part of the way from the last trial to that on the other side to try next."""
    (a, at_a), (b, at_b), (c, at_c) = last, other, before
    if len({at_a, at_b, at_c}) < 3 or not math.isfinite(at_a + at_b + at_c):
        return 0.5
    along, up = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
    if not (up**2 < along and (1.0 - up) ** 2 < 1.0 - along):
        return 0.5
    line = (at_a / (at_b - at_a)) * (at_c / (at_b - at_c))
    return line + (c - a) / (b - a) * (at_a / (at_c - at_a)) * (at_b / (at_c - at_b))
