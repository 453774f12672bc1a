"""Limits for the interval estimate, age by age, by the ratio of likelihoods.

A reliability is within the limits while no curve through it is less likely than the best by more
than half the chi-squared quantile of one degree of freedom (Thomas & Grunkemeier 1975 for exact
ages; Murphy & van der Vaart 1997 for intervals of few checks). Where checks lie anywhere and no
exact age is known the true quantile is smaller (2.28 and not 3.84 for 95 %: Banerjee & Wellner
2001), so the limits hold more often than they say. The resampled estimate does worse there: drawing
lives anew does not settle however many there are (Sen & Xu 2015), so it is not offered.

The best curve through a value is found with a price on all hazard before the age: the same concave
maximum as the estimate, at another cost.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.gate import HOURS_ANY, HOURS_EACH, LEVEL, gate
from fleetstats.core.value import Array, Floats, Value, as_asked, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.innermost import IntervalProblem, interval_problem
from fleetstats.survival.counting.interval_maximum import maximise
from fleetstats.survival.counting.turnbull import TurnbullCurve, estimate_turnbull
from fleetstats.survival.lives import LIVES

MOST_AGES = 24
"""Ages at which limits are found when none are asked for."""

CLOSE = 1e-5
"""Accuracy of a limit, in standard errors."""

EDGE_STEPS = 20
"""Halvings of what is left of the price of the cheapest interval, where hazard costs nothing."""

MOST_TRIES = 80
"""Prices tried for a limit; six are usual."""


@value
class TurnbullLimits(Value):
    """Interval estimate of reliability with two-sided limits, each for its age alone.

    Parameters
    ----------
    hours : (q,) float
        Ages, rising.
    estimate : (q,) float
        Reliability; within an interval the value before it, as in `TurnbullCurve.at`.
    low, high : (q,) float
        Limits at `level`.
    level : float
        Two-sided confidence of each pair.
    start_h, oldest_h : float
        Ages between which the curve is defined; NaN is returned outside.
    curve : TurnbullCurve
        The estimate itself.
    """

    hours: Floats
    estimate: Floats
    low: Floats
    high: Floats
    level: float
    start_h: float
    oldest_h: float
    curve: TurnbullCurve

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return reliability at each of `hours`; NaN before `start_h` and past `oldest_h`."""
        return self.curve.at(hours)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return limits at each of `hours`; NaN before `start_h` and past `oldest_h`.

        Between two of the ages they are those of the later for the low and of the earlier for the
        high one: reliability does not rise, so they hold there too. Past the last age the low
        limit is 0.
        """
        t = np.asarray(hours, dtype=np.float64)
        low = np.concatenate([self.low, [0.0]])[np.searchsorted(self.hours, t, side="left")]
        high = np.concatenate([[1.0], self.high])[np.searchsorted(self.hours, t, side="right")]
        outside = (t < self.start_h) | (t > self.oldest_h)
        return as_asked(np.where(outside, np.nan, low)), as_asked(np.where(outside, np.nan, high))

    def __repr__(self) -> str:
        return (
            f"Interval estimate with {100 * self.level:g} % limits by likelihood ratio at "
            f"{len(self.hours)} ages"
        )


@gate(spells=LIVES, hours=HOURS_EACH.or_none, level=LEVEL)
def estimate_turnbull_limits(
    spells: Spells, hours: ArrayLike | None = None, *, level: float = 0.90
) -> TurnbullLimits:
    """Estimate reliability by counting, with limits at chosen ages by likelihood ratio.

    Parameters
    ----------
    spells : Spells
        As for `estimate_turnbull`.
    hours : (q,) float, optional
        Ages; NaN is returned for those outside the data. Unless given, up to 24 ends of intervals
        that hold failures.
    level : float
        Two-sided confidence at each age.

    Returns
    -------
    TurnbullLimits
        Ages sorted, each once. Where no failure lies before an age, the low limit is the exact one
        of nobody failing among the fewest lives that passed (common practice; the ratio would be
        too near).

    Raises
    ------
    ArgumentError
        If `level` is not between 0 and 1, or an age is no number of hours.
    FitError
        If there are no lives.
    NotConverged
        If the optimality conditions cannot be met.

    References
    ----------
    Thomas & Grunkemeier (1975), J. Am. Stat. Assoc. 70, 865-871, whose table 1 is met to its three
    digits (``tests/laws/test_interval_estimate.py``). Murphy & van der Vaart (1997),
    Annals of Statistics 25, 1471-1509. Banerjee & Wellner (2001), Annals of Statistics 29,
    1699-1731. Sen & Xu (2015), Scandinavian J. Statistics 42, 63-77.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, [400, 500, 800, 900], [1, 1, 0, 1], exit_lower=[300, 450, 800, 700]
    ... )
    >>> limits = fs.estimate_turnbull_limits(lives, [600])
    >>> limits.low.round(3), limits.high.round(3)
    (array([0.149]), array([0.851]))
    """
    curve = estimate_turnbull(spells)
    ages = _ages(curve) if hours is None else np.unique(np.asarray(hours, dtype=np.float64))
    inside = (ages >= curve.start_h) & (ages <= curve.oldest_h)
    low, high = np.full(len(ages), np.nan), np.full(len(ages), np.nan)
    # The root of the chi-squared quantile of one degree of freedom.
    far = NormalDist().inv_cdf(0.5 + 0.5 * level)
    problem = interval_problem(spells, ages[inside])
    best, top, _ = maximise(problem, problem.cost)
    for i in np.flatnonzero(inside):
        before = int(np.searchsorted(problem.high_h, ages[i], side="right"))
        profile = _HazardProfile(problem, before, best, top, far)
        low[i], high[i] = profile.least(level), profile.most()
    return TurnbullLimits(
        hours=ages,
        estimate=np.asarray(curve.at(ages)),
        low=low,
        high=high,
        level=level,
        start_h=curve.start_h,
        oldest_h=curve.oldest_h,
        curve=curve,
    )


def _ages(curve: TurnbullCurve) -> Array:
    """Return up to `MOST_AGES` ends of intervals of the curve, evenly spread over their number."""
    m = len(curve.high_h)
    pick = np.unique(np.linspace(0, m - 1, min(m, MOST_AGES)).round().astype(int))
    return np.unique(curve.high_h[pick])


class _HazardProfile:
    """The greatest likelihood as a function of cumulative hazard before column `before`."""

    def __init__(
        self, problem: IntervalProblem, before: int, best: Array, top: float, far: float
    ) -> None:
        self.problem, self.before, self.top = problem, before, top
        self.near = best
        self.target = far
        self.early = np.arange(len(problem.cost)) < before
        self.hazard = float(best[:before].sum())

    def priced(self, price: float) -> tuple[float, float]:
        """Return hazard and root of the deviance where hazard before the age costs more."""
        rise, value, _ = maximise(
            self.problem, self.problem.cost + price * self.early, start=self.near
        )
        self.near = rise
        hazard = float(rise[: self.before].sum())
        # The price is no part of the likelihood; where nothing costs there is no hazard of it.
        value += price * hazard if math.isfinite(hazard) else 0.0
        return hazard, math.sqrt(max(2.0 * (self.top - value), 0.0))

    def guess(self) -> float:
        """Return about the price at a limit: the target over the standard error of the hazard."""
        rise, cost = self.near[: self.before], self.problem.cost[: self.before]
        some = (rise > 0.0) & np.isfinite(rise)
        variance = float((rise[some] / cost[some]).sum())
        return self.target / math.sqrt(variance) if variance > 0.0 else math.inf

    def least(self, level: float) -> float:
        """Return the low limit of reliability."""
        if not self.before:
            return 1.0
        cheapest = float(self.problem.cost[: self.before].min())
        if cheapest <= 0.0 or math.isinf(self.hazard):
            return 0.0
        ahead = [min(self.guess(), 0.5 * cheapest)]
        while len(ahead) < EDGE_STEPS:
            ahead.append(min(2.0 * ahead[-1], 0.5 * (ahead[-1] + cheapest)))
        hazard = self._crossing([-p for p in ahead], cheapest)
        if self.hazard == 0.0:
            hazard = max(hazard, -math.log(0.5 * (1.0 - level)) / cheapest)
        return math.exp(-hazard)

    def most(self) -> float:
        """Return the high limit of reliability."""
        if not self.before or self.hazard == 0.0 or self._without() < self.target:
            return 1.0
        price = self.guess()
        if math.isinf(price):
            price = math.sqrt(float(self.problem.weight.sum()))
        return math.exp(-self._crossing([price * 2.0**i for i in range(MOST_TRIES)], 0.0))

    def _without(self) -> float:
        """Return the root of the deviance where nothing fails before the age; infinite if none."""
        p = self.problem
        if np.any(p.past <= self.before):
            return math.inf
        late = IntervalProblem(
            low_h=p.low_h,
            high_h=p.high_h,
            cost=p.cost,
            first=np.maximum(p.first, self.before),
            past=p.past,
            weight=p.weight,
        )
        _, value, _ = maximise(late, p.cost)
        return math.sqrt(max(2.0 * (self.top - value), 0.0))

    def _crossing(self, prices: list[float], last: float) -> float:
        """Return the hazard at which the root of the deviance is the target.

        The root is nearly straight in the price; where it jumps, the likelihood is straight in the
        hazard between both sides of the jump. `prices` go outwards; where none reaches the target,
        hazard is added at the price `last`.
        """
        start = self.near
        inner, near = 0.0, (self.hazard, 0.0)
        for outer in prices:
            far = self.priced(outer)
            if far[1] >= self.target:
                break
            inner, near = outer, far
        else:
            return near[0] + (self.target**2 - near[1] ** 2) / (2.0 * last)
        for i in range(MOST_TRIES):
            if far[1] - self.target < CLOSE or self.target - near[1] < CLOSE:
                break
            share = (self.target - near[1]) / (far[1] - near[1])
            # Every third try halves, so that a bent root cannot hold one side for long.
            share = 0.5 if i % 3 == 2 else min(max(share, 0.01), 0.99)
            price = inner + share * (outer - inner)
            if price in (inner, outer):
                break
            found = self.priced(price)
            if found[1] < self.target:
                inner, near = price, found
            else:
                outer, far = price, found
        self.near = start
        if math.isinf(near[0]) or far[1] - self.target < CLOSE:
            return far[0]
        share = (self.target**2 - near[1] ** 2) / (far[1] ** 2 - near[1] ** 2)
        return near[0] + share * (far[0] - near[0])
