"""Reliability without a family when failures are only known to lie between checks.

Turnbull (1976), with the innermost intervals of Frydman (1994) under delayed entry. In the
increments of cumulative hazard over those intervals the log likelihood is

    - sum of c y + sum of w log(1 - exp(-G y)),   y >= 0,

with c the lives that pass an interval under observation and G the intervals that may hold a
failure: concave, with or without delayed entry. An increment that nobody is known to have passed is
infinite. The intervals are found in `innermost`, the rest in `interval_maximum`, until the
conditions of Karush, Kuhn and Tucker hold; no number of lives is too large.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import HOURS_ANY, gate
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Floats, Value, as_asked, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.innermost import IntervalProblem, interval_problem
from fleetstats.survival.counting.interval_maximum import is_settled, maximise
from fleetstats.survival.lives import LIVES

LEAST_MASS = 1e-14
"""Share of lives below which an interval holds nothing but rounding."""

OPEN_SPLIT = (
    "The records do not settle how failures share out between some intervals: other curves fit "
    "as well."
)
"""Said of an estimate that is one of many."""


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
    unique : bool
        Whether no other curve is known to fit as well; what lies within one interval is left open
        always.
    note : str
        What the records leave open; empty where nothing.
    """

    low_h: Floats
    high_h: Floats
    mass: Floats
    reliability: Floats
    log_likelihood: float
    breach: float
    start_h: float
    oldest_h: float
    unique: bool = True
    note: str = ""

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
        return as_asked(np.where(outside, np.nan, low)), as_asked(np.where(outside, np.nan, high))

    def __repr__(self) -> str:
        last = float(self.reliability[-1]) if len(self.reliability) else 1.0
        return (
            f"Interval estimate: {len(self.mass)} intervals hold the failures, reliability "
            f"{last:.3f} at {text_hours(self.oldest_h)}"
        )


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
        Fully converged, whatever the number of lives; for limits see `estimate_turnbull_limits`.

    Raises
    ------
    FitError
        If there are no lives.
    NotConverged
        If the optimality conditions cannot be met.

    References
    ----------
    Turnbull (1976), J. R. Statist. Soc. B 38, 290-295; Frydman (1994), J. R. Statist. Soc. B 56,
    71-74, for late entry.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, [400, 500, 800, 900], [1, 1, 0, 1], exit_lower=[300, 450, 800, 700]
    ... )
    >>> fs.estimate_turnbull(lives).at([250, 600])
    array([1. , 0.5])
    """
    if len(spells) == 0:
        raise FitError("There are no lives to count.", "Add records.")
    problem = interval_problem(spells)
    rise, log_likelihood, breach = maximise(problem, problem.cost)
    reliability = np.exp(-np.cumsum(rise))
    before = np.concatenate([[1.0], reliability[:-1]])
    mass = before * -np.expm1(-rise)
    some = mass > LEAST_MASS
    unique = is_settled(problem, rise, breach)
    return TurnbullCurve(
        low_h=problem.low_h[some],
        high_h=problem.high_h[some],
        mass=mass[some],
        reliability=reliability[some],
        log_likelihood=log_likelihood,
        breach=breach,
        start_h=float(spells.entry.min()),
        oldest_h=spells.oldest_h,
        unique=unique,
        note=" ".join(
            x for x in ("" if unique else OPEN_SPLIT, _spent(problem, rise, spells.oldest_h)) if x
        ),
    )


def _spent(problem: IntervalProblem, rise: Array, oldest_h: float) -> str:
    """Return what to say where the curve falls to 0 though lives were watched later."""
    nobody = np.flatnonzero(np.isinf(rise))
    if not len(nobody):
        return ""
    first = nobody[0]
    if oldest_h <= problem.high_h[first]:
        return ""
    return (
        f"Nobody watched is known to have passed {text_hours(float(problem.low_h[first]))} to "
        f"{text_hours(float(problem.high_h[first]))}, so the curve is 0 from there and says "
        "nothing of lives watched later."
    )
