"""Failures and lives at risk where each row is one life: bare numbers counted or sorted, once.

Weighted rows need an order of rows, and their sums in it; bare ages are sorted several times
faster. An age above 0 has a bit to spare, its sign: it holds whether the life failed. Hours to so
few digits that many lives share each are counted without any order.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

FEW = 1024
"""Ages at which enough lives are looked for first; later entries seldom decide. So many are also
tried for a step of hours."""

STEPS_AN_HOUR = (1.0, 10.0, 100.0)
"""Readings of meters: whole hours, tenths and hundredths."""

SHARED = 4
"""Lives to each step of hours from which on they are counted: fewer are as quickly sorted."""

MOST_STEPS = 1 << 28
"""Steps that fit a short whole number, doubled, however many lives there are."""

BLOCK = 1 << 14
"""Ages made into steps at a time: so many stay near the processor."""

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
    counted = _by_count(end, failed)
    hours, n_failed, at_risk = _by_sort(end, failed) if counted is None else counted
    past = int(np.searchsorted(hours, start_h, side="right"))
    hours, n_failed, at_risk = hours[past:], n_failed[past:], at_risk[past:]
    late = np.sort(entry[entry > 0.0]) if len(entry) and entry.max() > 0.0 else entry[:0]
    if len(late):
        at_risk -= len(late) - np.searchsorted(late, hours, side="left")
    return hours, n_failed, at_risk


def _by_sort(end: Array, failed: Array) -> tuple[Array, Array, Array]:
    """Return the ages of failures, failures, and how many lives ended there or later."""
    key = (np.ascontiguousarray(end).view(np.uint64) << _ONE) | failed.astype(np.uint64)
    key.sort()
    place = np.flatnonzero(key & _ONE)
    ages = (key >> _ONE).view(np.float64)
    hours = ages[place]
    if not len(hours):
        return hours, np.zeros(0), np.zeros(0)
    first = np.flatnonzero(np.concatenate([[True], hours[1:] != hours[:-1]]))
    n_failed = np.diff(first, append=len(hours)).astype(np.float64)
    hours, place = hours[first], place[first]
    # At one age the censored are sorted before the failed, and are at risk there too.
    beside = np.flatnonzero((place > 0) & (ages[place - 1] == hours))
    place[beside] = np.searchsorted(ages, hours[beside], side="left")
    return hours, n_failed, (len(ages) - place).astype(np.float64)


def _by_count(end: Array, failed: Array) -> tuple[Array, Array, Array] | None:
    """Return the same as `_by_sort` where ages are few steps, each of many lives; else None."""
    n = len(end)
    if n < FEW:
        return None
    some = end[:FEW]
    per_h = next((p for p in STEPS_AN_HOUR if (np.rint(some * p) / p == some).all()), 0.0)
    if not per_h or end.max() * per_h * SHARED > min(n, MOST_STEPS):
        return None
    steps = _steps(end, failed, per_h)
    if steps is None:
        return None
    many = np.bincount(steps)
    many = np.append(many, 0) if len(many) % 2 else many
    n_failed = many[1::2]
    ended = many[::2] + n_failed
    at = np.flatnonzero(n_failed)
    later = n - np.cumsum(ended) + ended
    return at / per_h, n_failed[at].astype(np.float64), later[at].astype(np.float64)


def _steps(end: Array, failed: Array, per_h: float) -> Array | None:
    """Return twice the step of each age, and 1 more where it failed; None where one is no step.

    An age is a step where dividing the step gives the very number again.
    """
    out, buffer, whole = np.empty(len(end), np.int64), np.empty(BLOCK), np.empty(BLOCK, np.int32)
    for a in range(0, len(end), BLOCK):
        ages = end[a : a + BLOCK]
        step, twice = buffer[: len(ages)], whole[: len(ages)]
        np.rint(np.multiply(ages, per_h, out=step), out=step)
        twice[...] = step
        if not (np.divide(step, per_h, out=step) == ages).all():
            return None
        twice <<= 1
        twice |= failed[a : a + BLOCK]
        out[a : a + BLOCK] = twice
    return out


def first_of_so_many(entry: Array, end: Array, least: float) -> float | None:
    """Return the least entry just after which `least` lives were at risk; None if none is."""
    starts, ends = np.sort(entry), np.sort(end)
    for some in (starts[:FEW], starts):
        entered = np.searchsorted(starts, some, side="right")
        enough = entered - np.searchsorted(ends, some, side="right") >= least
        if enough.any():
            return float(some[np.argmax(enough)])
    return None
