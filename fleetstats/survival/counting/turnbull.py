"""Reliability without a family when failures are only known to lie between checks.

Turnbull (1976), with the innermost intervals of Frydman (1994) under delayed entry. In the
increments of cumulative hazard over those intervals the log likelihood is

    - sum of c y + sum of w log(1 - exp(-G y)),   y >= 0,

with c the lives that pass an interval under observation and G the intervals that may hold a
failure: concave, with or without delayed entry. An increment that nobody is known to have passed is
infinite. The rest is found by expectation-maximisation steps for a start and constrained Newton
steps, until the conditions of Karush, Kuhn and Tucker hold.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, NotConverged
from fleetstats.core.gate import HOURS_ANY, gate
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES

TOLERANCE = 1e-9
"""Greatest breach of the optimality conditions, per failure."""

MOST_CELLS = 50_000_000
"""Failure rows times intervals above which the tables would not fit in memory."""


@value
class TurnbullCurve(Value):
    """Estimate of reliability from interval-known failures.

    Parameters
    ----------
    low_h, high_h : (m,) float
        Innermost intervals ``(low_h, high_h]`` that hold the failures; equal for an exact age.
        Within one, the data do not say where.
    mass : (m,) float
        Share of lives that failed in each, of those that reach `start_h`.
    reliability : (m,) float
        Just after each interval.
    log_likelihood : float
        At the estimate.
    breach : float
        Greatest remaining breach of the optimality conditions, per failure.
    start_h, oldest_h : float
        Ages between which the estimate is defined.
    """

    low_h: Floats
    high_h: Floats
    mass: Floats
    reliability: Floats
    log_likelihood: float
    breach: float
    start_h: float
    oldest_h: float

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return reliability at each of `hours`; within an interval the value before it.

        NaN before `start_h` and past `oldest_h`.
        """
        return self.bounds(hours)[1]

    @gate(hours=HOURS_ANY)
    def bounds(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the least and the greatest reliability at each of `hours`.

        They differ only within an interval, where the data do not say how failures are spread.
        """
        t = np.asarray(hours, dtype=np.float64)
        steps = np.concatenate([[1.0], self.reliability])
        high = steps[np.searchsorted(self.high_h, t, side="right")]
        low = steps[np.searchsorted(self.low_h, t, side="left")]
        exact = np.searchsorted(self.high_h, t, side="right")
        low = np.minimum(low, steps[exact])
        outside = (t < self.start_h) | (t > self.oldest_h)
        return np.where(outside, np.nan, low), np.where(outside, np.nan, high)

    def __repr__(self) -> str:
        last = float(self.reliability[-1]) if len(self.reliability) else 1.0
        return (
            f"Interval estimate: {len(self.mass)} intervals hold the failures, reliability "
            f"{last:.3f} at {text_hours(self.oldest_h)}"
        )


def _innermost(spells: Spells) -> tuple[Array, Array, Array, Array]:
    """Return (value, order) keys of the left and right ends of the innermost intervals.

    At one age the order is: an exact failure's left end, right ends and entries, open left ends.
    """
    failed = spells.failed
    exact = failed & ~spells.interval_known
    lower = spells.exit_lower[~exact]
    entry = spells.entry[spells.entry > 0.0]
    value = np.concatenate([spells.exit_lower[exact], spells.exit_upper[failed], entry, lower])
    order = np.repeat([0, 1, 1, 2], [int(exact.sum()), int(failed.sum()), len(entry), len(lower)])
    left = order != 1
    keys = np.unique(np.column_stack([value, order, left]), axis=0)
    inner = np.flatnonzero((keys[:-1, 2] == 1.0) & (keys[1:, 2] == 0.0))
    return keys[inner, 0], keys[inner, 1], keys[inner + 1, 0], keys[inner + 1, 1]


@gate(spells=LIVES)
def estimate_turnbull(spells: Spells) -> TurnbullCurve:
    """Estimate reliability by counting, for exact, running, interval- and left-known lives.

    Parameters
    ----------
    spells : Spells
        With or without delayed entry; endings other than the failure in question censor.

    Returns
    -------
    TurnbullCurve
        Fully converged; the standard theory gives no limits for it.

    Raises
    ------
    FitError
        If there are no lives or the problem is too large.
    NotConverged
        If the optimality conditions cannot be met.
    """
    if len(spells) == 0:
        raise FitError("There are no lives to count.", "Add records.")
    rows = _merge(spells)
    start = float(rows.entry.min())
    if not rows.failed.any():
        none = np.empty(0)
        return TurnbullCurve(
            low_h=none,
            high_h=none,
            mass=none,
            reliability=none,
            log_likelihood=0.0,
            breach=0.0,
            start_h=start,
            oldest_h=rows.oldest_h,
        )
    left, left_order, right, _ = _innermost(rows)
    m = len(left)
    failures = rows.select(rows.failed)
    if len(failures) * m > MOST_CELLS:
        raise FitError(
            f"{len(failures)} failures over {m} intervals are too many for the interval estimate.",
            "Round the hours of the checks, so that fewer distinct ages remain.",
        )
    exact = failures.exit_lower == failures.exit_upper
    # An interval that opens where an exact failure lies comes after it.
    after = np.where(
        exact[:, None],
        (left[None] == failures.exit_lower[:, None]) & (left_order[None] == 0),
        (left[None] > failures.exit_lower[:, None])
        | ((left[None] == failures.exit_lower[:, None]) & (left_order[None] == 2)),
    )
    holds = after & (right[None] <= failures.exit_upper[:, None])
    cost = _passed(rows, left, left_order, right)
    rise, breach = _maximise(holds, failures.weight, cost)
    reliability = np.exp(-np.cumsum(rise))
    before = np.concatenate([[1.0], reliability[:-1]])
    mass = before * -np.expm1(-rise)
    total = holds @ np.where(np.isfinite(rise), rise, 1e300)
    finite = np.where(np.isfinite(rise), rise, 0.0)
    value = float(failures.weight @ np.log(-np.expm1(-total)) - cost @ finite)
    some = mass > 1e-14
    return TurnbullCurve(
        low_h=left[some],
        high_h=right[some],
        mass=mass[some],
        reliability=reliability[some],
        log_likelihood=value,
        breach=breach,
        start_h=start,
        oldest_h=rows.oldest_h,
    )


def _merge(spells: Spells) -> Spells:
    """Merge rows alike in all that matters here."""
    blank = np.full(len(spells), "")
    event = spells.failed.astype(int)
    return spells.replace(cause=blank, source=blank, build=blank, event=event).collapse()


def _passed(rows: Spells, left: Array, left_order: Array, right: Array) -> Array:
    """Return, for each interval, the weight of lives known to have passed it while observed."""
    exact = rows.failed & ~rows.interval_known
    survived = np.zeros(len(left))
    for keep, side in ((~exact, "left"), (exact, "right")):
        survived += _beyond(rows.exit_lower[keep], rows.weight[keep], right, side)
    # No entry lies within an innermost interval, so who came after its left end came after it all.
    late = np.where(
        left_order == 2,
        _beyond(rows.entry, rows.weight, left, "right"),
        _beyond(rows.entry, rows.weight, left, "left"),
    )
    cost = survived - late
    # A rest of rounding is nobody.
    cost[cost < 1e-12 * rows.weight.sum()] = 0.0
    return cost


def _beyond(ages: Array, weight: Array, cut: Array, side: str) -> Array:
    """Return the weight of `ages` at or past (`left`) or past (`right`) each of `cut`."""
    order = np.argsort(ages, kind="stable")
    tail = np.concatenate([np.cumsum(weight[order][::-1])[::-1], [0.0]])
    return np.asarray(tail[np.searchsorted(ages[order], cut, side=side)])  # type: ignore[call-overload]


def _maximise(holds: Array, weight: Array, cost: Array) -> tuple[Array, float]:
    """Return the increments of cumulative hazard and the breach of the optimality conditions."""
    rise = np.full(holds.shape[1], np.inf)
    costly = cost > 0.0
    # Rows that may lie where nobody passed have probability 1 there, at no cost.
    rows = ~holds[:, ~costly].any(axis=1)
    rise[costly] = 0.0
    used = costly & holds[rows].any(axis=0)
    if not used.any():
        return rise, 0.0
    g = holds[np.ix_(rows, used)].astype(np.float64)
    w, c = weight[rows], cost[used]
    reach = c + w @ g
    y = (w @ g) / reach / max(float(g.sum(axis=1).max()), 1.0)
    breach = np.inf
    for patience in (200, 2_000, 20_000):
        y = _expectation_steps(g, w, reach, y, patience)
        y, breach = _newton_steps(g, w, c, y)
        if breach <= TOLERANCE:
            break
    else:
        raise NotConverged(
            f"The interval estimate did not settle: its conditions fail by {breach:.1g}.",
            "Round the hours of the checks, so that fewer distinct ages remain.",
        )
    rise[used] = y
    return rise, breach


def _value(g: Array, w: Array, c: Array, y: Array) -> float:
    s = g @ y
    if not np.all(s > 0.0):
        return -np.inf
    return float(w @ np.log(-np.expm1(-s)) - c @ y)


def _expectation_steps(g: Array, w: Array, reach: Array, y: Array, steps: int) -> Array:
    """Climb by expectation-maximisation on latent Poisson counts: sure, but slow at the end."""
    y = np.maximum(y, 1e-12)
    for _ in range(steps):
        y = y * (((w / -np.expm1(-(g @ y))) @ g) / reach)
    return np.asarray(y)


def _breach(y: Array, slope: Array, reach: Array, total: float) -> float:
    """Return the greatest breach of the conditions: uphill slopes, and downhill ones above 0."""
    up = slope / reach
    down = np.where(slope < 0.0, -slope * y / total, 0.0)
    return float(max(up.max(), down.max()))


def _newton_steps(g: Array, w: Array, c: Array, y: Array) -> tuple[Array, float]:
    """Newton steps within y >= 0, each a least-squares problem in increments that stay above 0.

    As the constrained Newton method of Wang (2007) for mixtures: the quadratic model is solved
    within the bounds, so that the step always leads uphill.
    """
    from scipy.optimize import nnls

    total, reach = float(w.sum()), c + w @ g
    value = _value(g, w, c, y)
    breach, quiet = np.inf, 0
    for _ in range(200):
        s = g @ y
        odds = w / np.expm1(s)
        slope = odds @ g - c
        breach = _breach(y, slope, reach, total)
        if breach < 1e-3 * TOLERANCE:
            break
        a = g * np.sqrt(odds * (1.0 + 1.0 / np.expm1(s)))[:, None]
        curve = a.T @ a
        unit = 1.0 / np.sqrt(np.diag(curve))
        scaled = curve * np.outer(unit, unit)
        # A little ridge makes the model strictly concave; at the answer it has no effect.
        scaled[np.diag_indices_from(scaled)] += 1e-10
        root = np.linalg.cholesky(scaled)
        target = np.linalg.solve(root, slope * unit + scaled @ (y / unit))
        ahead = unit * nnls(root.T, target, maxiter=50 * len(y))[0]
        part = 1.0
        for _ in range(50):
            new_y = y + part * (ahead - y)
            new = _value(g, w, c, new_y)
            # Close to the answer rounding hides the rise; a few steps are then trusted.
            hidden = part == 1.0 and quiet < 4 and new >= value - 1e-12 * (abs(value) + total)
            if new > value or hidden:
                quiet += int(new <= value)
                break
            part *= 0.5
        else:
            break
        y, value = new_y, new
    return y, breach
