"""Innermost intervals: where failures known only by intervals can lie in the best estimate.

Turnbull (1976), with those of Frydman (1994) under delayed entry. Everything is found by sorting
and by cumulative sums, so that the work grows with n log n and no table of lives times intervals
is ever made.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells

EXACT, RIGHT, OPEN = 0, 1, 2
"""Order of ends at one age: an exact failure's left end, right ends and entries, open left ends."""


@value
class IntervalProblem(Value):
    """What is to be made greatest: ``sum of w log(1 - exp(-G y)) - sum of c y`` over ``y >= 0``.

    `y` are increments of cumulative hazard over the innermost intervals. A row of G is 1 from
    `first` up to before `past`, else 0.

    Parameters
    ----------
    low_h, high_h : (m,) float
        Innermost intervals ``(low_h, high_h]``, rising; equal for an exact age.
    cost : (m,) float
        Weight of lives known to have passed the interval while observed.
    first, past : (n,) int
        Innermost intervals that may hold the failure of a row: ``first`` to ``past - 1``.
    weight : (n,) float
        Failures that a row stands for.
    """

    low_h: Floats
    high_h: Floats
    cost: Floats
    first: Array
    past: Array
    weight: Floats


def interval_problem(spells: Spells, cuts: Array | None = None) -> IntervalProblem:
    """Return the innermost intervals of `spells`, who passes them, and which rows may fail there.

    Parameters
    ----------
    spells : Spells
        At least one; endings other than the failure in question censor.
    cuts : (q,) float, optional
        Ages, in hours, at which intervals are cut so that a value of the curve can be asked there;
        the greatest likelihood stays the same.
    """
    failed = spells.failed
    exact = failed & ~spells.interval_known
    low, low_order, high = _innermost(spells, failed, exact, cuts)
    first = np.searchsorted(low, spells.exit_lower[failed], side="left")
    # An interval that opens where an exact failure lies comes after it.
    at = np.minimum(first, max(len(low) - 1, 0))
    if len(low):
        skip = (low[at] == spells.exit_lower[failed]) & (low_order[at] == EXACT)
        first = first + (skip & ~exact[failed])
    past = np.searchsorted(high, spells.exit_upper[failed], side="right")
    rows, inverse = np.unique(first * (len(low) + 1) + past, return_inverse=True)
    return IntervalProblem(
        low_h=low,
        high_h=high,
        cost=_passed(spells, exact, low, low_order, high),
        first=rows // (len(low) + 1),
        past=rows % (len(low) + 1),
        weight=np.bincount(inverse.ravel(), weights=spells.weight[failed], minlength=len(rows)),
    )


def _innermost(
    spells: Spells, failed: Array, exact: Array, cuts: Array | None
) -> tuple[Array, Array, Array]:
    """Return left ends, their order at one age, and right ends of the innermost intervals."""
    right, opening = [spells.exit_upper[failed], spells.entry], [spells.exit_lower[~exact]]
    if cuts is None:
        right[1] = right[1][right[1] > 0.0]
    else:
        right.append(cuts)
        opening += [cuts, spells.entry.min(keepdims=True)]
    ends = (spells.exit_lower[exact], np.concatenate(right), np.concatenate(opening))
    kinds = [np.unique(x) for x in ends]
    age = np.concatenate(kinds)
    order = np.repeat([EXACT, RIGHT, OPEN], [len(x) for x in kinds])
    rising = np.lexsort((order, age))
    age, order = age[rising], order[rising]
    inner = np.flatnonzero((order[:-1] != RIGHT) & (order[1:] == RIGHT))
    return age[inner], order[inner], age[inner + 1]


def _passed(spells: Spells, exact: Array, low: Array, low_order: Array, high: Array) -> Array:
    """Return, for each interval, the weight of lives known to have passed it while observed."""
    survived = np.zeros(len(low))
    for keep, side in ((~exact, "left"), (exact, "right")):
        survived += _beyond(spells.exit_lower[keep], spells.weight[keep], high, side)
    # No entry lies within an innermost interval, so who came after its left end came after it all.
    order = np.argsort(spells.entry, kind="stable")
    entry, weight = spells.entry[order], spells.weight[order]
    late = np.where(
        low_order == OPEN,
        _tail(entry, weight, low, "right"),
        _tail(entry, weight, low, "left"),
    )
    cost = survived - late
    # A rest of rounding is nobody.
    cost[cost < 1e-12 * spells.weight.sum()] = 0.0
    return np.asarray(cost)


def _beyond(ages: Array, weight: Array, cut: Array, side: str) -> Array:
    """Return the weight of `ages` at or past (`left`) or past (`right`) each of `cut`."""
    order = np.argsort(ages, kind="stable")
    return _tail(ages[order], weight[order], cut, side)


def _tail(ages: Array, weight: Array, cut: Array, side: str) -> Array:
    """Return as `_beyond`, of rising `ages`."""
    tail = np.concatenate([np.cumsum(weight[::-1])[::-1], [0.0]])
    return np.asarray(tail[np.searchsorted(ages, cut, side=side)])  # type: ignore[call-overload]
