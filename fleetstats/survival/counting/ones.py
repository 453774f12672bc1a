"""Failures and lives at risk where each row is one life: by sorting bare numbers, once.

Weighted rows need an order of rows, and their sums in it; bare ages are sorted several times
faster. An age above 0 has a bit to spare, its sign: it holds whether the life failed.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

FEW = 1024
"""Ages at which enough lives are looked for first; later entries seldom decide."""

_ONE = np.uint64(1)


def tally_ones(
    entry: Array, end: Array, failed: Array, start_h: float
) -> tuple[Array, Array, Array]:
    """Return the ages of failures past `start_h`, failures and lives at risk at each, all (m,).

    Parameters
    ----------
    entry, end : (n,) float
        Hours; at risk when ``entry < t <= end``. Ends are above 0.
    failed : (n,) bool
        Whether the failure in question ended the life.
    start_h : float
        Hours up to which failures are left out.
    """
    key = (np.ascontiguousarray(end).view(np.uint64) << _ONE) | failed.astype(np.uint64)
    key.sort()
    place = np.flatnonzero(key & _ONE)
    ages = (key >> _ONE).view(np.float64)
    hours = ages[place]
    past = int(np.searchsorted(hours, start_h, side="right"))
    hours, place = hours[past:], place[past:]
    if not len(hours):
        return hours, np.zeros(0), np.zeros(0)
    first = np.flatnonzero(np.concatenate([[True], hours[1:] != hours[:-1]]))
    n_failed = np.diff(first, append=len(hours)).astype(np.float64)
    hours, place = hours[first], place[first]
    # At one age the censored are sorted before the failed, and are at risk there too.
    beside = np.flatnonzero((place > 0) & (ages[place - 1] == hours))
    place[beside] = np.searchsorted(ages, hours[beside], side="left")
    at_risk = (len(ages) - place).astype(np.float64)
    late = np.sort(entry[entry > 0.0])
    if len(late):
        at_risk -= len(late) - np.searchsorted(late, hours, side="left")
    return hours, n_failed, at_risk


def first_of_so_many(entry: Array, end: Array, least: float) -> float | None:
    """Return the least entry just after which `least` lives were at risk; None if none is."""
    starts, ends = np.sort(entry), np.sort(end)
    for some in (starts[:FEW], starts):
        entered = np.searchsorted(starts, some, side="right")
        enough = entered - np.searchsorted(ends, some, side="right") >= least
        if enough.any():
            return float(some[np.argmax(enough)])
    return None
