"""The greatest likelihood of failures known by intervals, with work that grows with the rows.

In increments `y` of cumulative hazard over the innermost intervals the log likelihood is concave
(see `innermost`). Few increments are above 0 at the answer, and sums over runs of them are
differences of cumulative sums. So: from a few sure steps of expectation and maximisation,
constrained Newton steps on the increments in use and, between each two of those, the one whose
slope is steepest (Wang 2008, for failures known by intervals). The quadratic model of a step is, in
cumulative hazard at the ends, that of springs between the two ends of each row (see `springs`). It
ends when the conditions of Karush, Kuhn and Tucker hold over all increments, those out of use
included.

References
----------
Wang (2008), Computational Statistics & Data Analysis 52, 2388-2402. Gentleman
& Geyer (1994), Biometrika 81, 618-623.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.errors import NotConverged
from fleetstats.core.value import Array
from fleetstats.survival.counting.innermost import IntervalProblem
from fleetstats.survival.counting.springs import Springs, within_bounds

TOLERANCE = 1e-9
"""Greatest breach of the optimality conditions, per failure."""

ENOUGH = 1e-3 * TOLERANCE
"""Breach at which no further step is tried."""

MOST_STEPS = 500
"""Newton steps before it is given up; twenty are usual."""


class _IntervalRows:
    """Rows of a problem over columns that cost something and that some row still needs.

    Parameters
    ----------
    problem : IntervalProblem
        Rows that may lie where nobody passed are certain there, at no cost, and are left out.

    Attributes
    ----------
    used : (m,) bool
        Columns kept; `free` (m,) bool those without cost, whose increment is infinite.
    first, past : (n,) int
        As in the problem, over the columns kept.
    weight, cost : (n,) and (k,) float
        Of rows and columns kept.
    """

    def __init__(self, problem: IntervalProblem, cost: Array) -> None:
        self.free = cost <= 0.0
        m = len(cost)
        sure = np.concatenate([[0], np.cumsum(self.free)])
        keep = sure[problem.first] == sure[problem.past]
        first, past = problem.first[keep], problem.past[keep]
        covered = np.cumsum(
            np.bincount(first, minlength=m + 1) - np.bincount(past, minlength=m + 1)
        )
        self.used = ~self.free & (covered[:m] > 0)
        place = np.concatenate([[0], np.cumsum(self.used)])
        self.cost = cost[self.used]
        self.k = len(self.cost)
        key = place[first] * (self.k + 1) + place[past]
        rows, inverse = np.unique(key, return_inverse=True)
        self.first, self.past = rows // (self.k + 1), rows % (self.k + 1)
        self.weight = np.bincount(
            inverse.ravel(), weights=problem.weight[keep], minlength=len(rows)
        )
        self.total = float(self.weight.sum())
        self.reach = self.cost + self.over(self.weight)

    def sums(self, y: Array) -> Array:
        """Return, for each row, the sum of `y` (k,) over its columns."""
        # Extended precision: rows may be sums of little between large cumulative sums.
        level = np.concatenate([np.zeros(1, np.longdouble), np.cumsum(y, dtype=np.longdouble)])
        return np.asarray(level[self.past] - level[self.first], dtype=np.float64)

    def over(self, x: Array) -> Array:
        """Return, for each column, the sum of `x` (n,) over the rows that cover it."""
        ends = np.bincount(self.first, weights=x, minlength=self.k + 1)
        ends -= np.bincount(self.past, weights=x, minlength=self.k + 1)
        return np.asarray(np.cumsum(ends, dtype=np.longdouble)[: self.k], dtype=np.float64)

    def value(self, s: Array, y: Array) -> float:
        """Return the log likelihood at `y` with row sums `s`; minus infinity where one is 0."""
        if not np.all(s > 0.0):
            return -np.inf
        return float(self.weight @ np.log(-np.expm1(-s)) - self.cost @ y)

    def breach(self, y: Array, slope: Array) -> float:
        """Return the greatest breach of the conditions: slopes uphill, and downhill above 0."""
        down = np.where(slope < 0.0, -slope * y / self.total, 0.0)
        return float(max((slope / self.reach).max(), down.max()))

    def start(self) -> Array:
        """Return increments on few columns that leave no row at 0, after sure steps uphill."""
        used = np.zeros(self.k, dtype=bool)
        last = -1
        # Fewest columns that meet every row: from the left, the last column of the first row that
        # is not met yet.
        order = np.argsort(self.past, kind="stable")
        for a, b in zip(self.first[order].tolist(), self.past[order].tolist(), strict=True):
            if a > last:
                last = b - 1
                used[last] = True
        y = np.where(used, self.over(self.weight) / self.reach, 0.0)
        y /= max(float(self.sums(used.astype(np.float64)).max()), 1.0)
        for _ in range(20):
            y = y * (self.over(self.weight / -np.expm1(-self.sums(y))) / self.reach)
        return np.asarray(y)


def maximise(
    problem: IntervalProblem, cost: Array, start: Array | None = None
) -> tuple[Array, float, float]:
    """Return the increments of cumulative hazard, the log likelihood, and the breach that is left.

    Parameters
    ----------
    problem : IntervalProblem
        With at least one row.
    cost : (m,) float
        In place of the problem's own, which stays as it is.
    start : (m,) float, optional
        Increments close to the answer, such as those of another cost.

    Raises
    ------
    NotConverged
        If the optimality conditions cannot be met to `TOLERANCE`.
    """
    rows = _IntervalRows(problem, cost)
    rise = np.where(rows.free, np.inf, 0.0)
    if not rows.used.any():
        return rise, 0.0, 0.0
    y = rows.start() if start is None else np.where(np.isfinite(start), start, 0.0)[rows.used]
    if not np.all(rows.sums(y) > 0.0):
        y = rows.start()
    y, value, breach = climb(rows, y)
    if breach > TOLERANCE:
        raise NotConverged(
            f"The interval estimate did not settle: its conditions fail by {breach:.1g}.",
            "Look for weights or hours of very different size among the failures.",
        )
    rise[rows.used] = y
    return rise, value, breach


def is_settled(problem: IntervalProblem, rise: Array, breach: float) -> bool:
    """Return whether no other increments are as likely as `rise`, the most likely ones.

    The likelihood fixes the sum over each row. So the increments that may be above 0 are fixed
    where rows tie all points between them together (Gentleman & Geyer 1994 ask for the rank).
    """
    rows = _IntervalRows(problem, problem.cost)
    if rows.free.any() and not _first_free_is_needed(problem, rows.free):
        return False
    if not rows.used.any():
        return True
    y = rise[rows.used]
    slope = rows.over(rows.weight / np.expm1(rows.sums(y))) - rows.cost
    level = np.abs(slope) / rows.reach <= max(10.0 * breach, 1e-10)
    place = np.concatenate([[0], np.cumsum((y > 0.0) | level)])
    return _in_one_piece(place[rows.first], place[rows.past], int(place[-1]) + 1)


def _first_free_is_needed(problem: IntervalProblem, free: Array) -> bool:
    """Return whether some row can lie in the first column that nobody passed and in no later one.

    Past that column nothing of the curve is left, whatever follows.
    """
    count = np.concatenate([[0], np.cumsum(free)])
    one = np.flatnonzero(free)[0]
    here = (problem.first <= one) & (one < problem.past)
    return bool(np.any(here & (count[problem.past] - count[problem.first] == 1)))


def _in_one_piece(first: Array, past: Array, n: int) -> bool:
    """Return whether ties between points `first` and `past` join all `n` points."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ties = coo_array((np.ones(len(first)), (first, past)), shape=(n, n))
    return bool(connected_components(ties.tocsr(), directed=False)[0] == 1)


def climb(rows: _IntervalRows, y: Array) -> tuple[Array, float, float]:
    """Climb from `y` by constrained Newton steps until the conditions hold or no step helps."""
    s = rows.sums(y)
    value, quiet, breach = rows.value(s, y), 0, np.inf
    for _ in range(MOST_STEPS):
        odds = rows.weight / np.expm1(s)
        slope = rows.over(odds) - rows.cost
        breach = rows.breach(y, slope)
        if breach < ENOUGH:
            break
        ahead = _ahead(rows, y, s, odds, slope)
        part = 1.0
        for _ in range(50):
            new_y = y + part * (ahead - y) if part < 1.0 else ahead
            new_s = rows.sums(new_y)
            new = rows.value(new_s, new_y)
            # Close to the answer rounding hides the rise; a few steps are then trusted.
            hidden = part == 1.0 and quiet < 4 and new >= value - 1e-12 * (abs(value) + rows.total)
            if new > value or hidden:
                quiet += int(new <= value)
                break
            part *= 0.5
        else:
            break
        y, s, value = new_y, new_s, new
    return y, value, breach


def _ahead(rows: _IntervalRows, y: Array, s: Array, odds: Array, slope: Array) -> Array:
    """Return where the quadratic model is greatest, on columns in use and promising ones."""
    at = _columns(y, slope)
    place = np.zeros(rows.k + 1, dtype=np.int64)
    place[at + 1] = 1
    place = np.cumsum(place)
    stiff = odds * (1.0 + 1.0 / np.expm1(s))
    springs = Springs.of(place[rows.first], place[rows.past], stiff, odds + stiff * s, len(at))
    ahead = np.zeros(rows.k)
    ahead[at] = within_bounds(springs, rows.cost[at], y[at])
    return ahead


def _columns(y: Array, slope: Array) -> Array:
    """Return columns in use and, in each gap between them, the steepest that leads uphill."""
    used = np.flatnonzero(y > 0.0)
    heads = np.concatenate([[0], used + 1])
    heads = heads[heads < len(y)]
    masked = np.where(y > 0.0, -np.inf, slope)
    # A gap runs from one column in use to the next; an empty one holds only that next column.
    top = np.maximum.reduceat(masked, heads)
    gap = np.searchsorted(heads, np.arange(len(y)), side="right") - 1
    best = np.flatnonzero((masked == top[gap]) & (masked > 0.0))
    keep = np.concatenate([[True], gap[best][1:] != gap[best][:-1]]) if len(best) else best
    return np.union1d(used, best[keep])
