"""Life, reliability and hazard of a Weibull law on covariates, each held for its profile.

All three are linear in ``(log shape, log cumulative hazard, g)`` about the values asked for, so one
Newton solver serves them (Lawless 2003, sections 5.1 and 6.3; Meeker & Escobar 1998, section 8.3).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.parameter import walk_out
from fleetstats.survival.regression.accelerated import Problem, climb_through

FIRST_STEP = 0.25
FARTHEST = 40.0
"""Distance in logs at which the search for an edge stops and says that there is none."""


@value
class Edged(Value):
    """An estimate with its limits; None where the likelihood gives none."""

    estimate: float | None
    low: float | None
    high: float | None


@value
class AgeAt(Value):
    """Reliability, and hazard per hour, at an age and the values asked for."""

    hours: float
    reliability: Edged
    hazard_per_h: Edged
    extrapolated: bool


@value
class LifeAt(Value):
    """Hours by which a share `p` has failed at the values asked for."""

    p: float
    life_h: Edged
    extrapolated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLaw:
    """The likelihood about the values asked for.

    Parameters
    ----------
    problem : Problem
    dx : (n, k) float
        Covariates less the values asked for.
    penalty : (k,) float
        As for `climb_through`.
    start : (1 + k,) float
        Log shape and shape times effects at the top.
    top : float
        The greatest log-likelihood, with the penalty.
    drop : float
        Fall of it at a limit.
    one_sided : bool
        Whether there is no estimate, and each limit is one-sided.
    best_shape, best_centre : float
        The shape, and the log scale at the values asked for.
    """

    problem: Problem
    dx: Array
    penalty: Array
    start: Array
    top: float
    drop: float
    one_sided: bool
    best_shape: float
    best_centre: float

    def held(self, log_age: float, about: float, hazard: bool) -> float:
        """Return the top of the likelihood with `about` held at an age.

        `about` is the log cumulative hazard there, or the log hazard times the age.
        """
        k = self.dx.shape[1]
        theta = np.concatenate([[self.start[0]], [0.0], self.start[1:]])
        theta[1] = theta[0] - about if hazard else -about
        free = np.zeros((k + 2, k + 1))
        free[0, 0] = 1.0
        if hazard:
            free[1, 0] = 1.0
        free[2:, 1:] = np.eye(k)
        return climb_through(
            self.problem, self.dx, theta, log_age=log_age, free=free, penalty=self.penalty
        )[1]


def _edges(
    at: HeldLaw, fall: Callable[[float], float], best: float
) -> tuple[float | None, float | None]:
    """Return where the likelihood has fallen far enough, below and above `best`."""
    return _edge(at, fall, best, -1.0), _edge(at, fall, best, 1.0)


def _edge(at: HeldLaw, fall: Callable[[float], float], best: float, sign: float) -> float | None:
    def short(x: float) -> float:
        return fall(x) - at.drop

    try:
        return walk_out(short, best, sign, step=FIRST_STEP, farthest=FARTHEST)
    except (NoMaximum, NotConverged, ValueError):
        return None


def _crossing(
    at: HeldLaw, fall: Callable[[float], float], best: float, sign: float
) -> float | None:
    """Return the one edge of a quantity without a best value: the fall rises along `sign`."""
    start = best
    for _ in range(60):
        if fall(start) < at.drop:
            return _edge(at, fall, start, sign)
        start -= sign
    return None


def _exp(x: float | None) -> float | None:
    return None if x is None else math.exp(x)


def hold_life(at: HeldLaw, p: float) -> Edged:
    """Return the life of a share `p` at the values asked for, with its limits."""
    w = math.log(-math.log1p(-p))
    best = at.best_centre + w / at.best_shape

    def fall(log_life: float) -> float:
        return at.top - at.held(log_life, w, hazard=False)

    if at.one_sided:
        return Edged(estimate=None, low=_exp(_crossing(at, fall, best, -1.0)), high=None)
    low, high = _edges(at, fall, best)
    return Edged(estimate=math.exp(best), low=_exp(low), high=_exp(high))


def hold_age(at: HeldLaw, hours: float, reached_h: float) -> AgeAt:
    """Return reliability and hazard at an age; past `reached_h` they are extrapolated."""
    log_age = math.log(hours)
    best = at.best_shape * (log_age - at.best_centre)

    def fall(w: float) -> float:
        return at.top - at.held(log_age, w, hazard=False)

    def fall_hazard(about: float) -> float:
        return at.top - at.held(log_age, about, hazard=True)

    about = best + math.log(at.best_shape)
    if at.one_sided:
        most = _exp(_crossing(at, fall, best, 1.0))
        steepest = _exp(_crossing(at, fall_hazard, about, 1.0))
        reliability = Edged(estimate=None, low=None if most is None else math.exp(-most), high=None)
        hazard = Edged(estimate=None, low=None, high=None if steepest is None else steepest / hours)
    else:
        low, high = (_exp(x) for x in _edges(at, fall, best))
        reliability = Edged(
            estimate=math.exp(-math.exp(best)),
            low=None if high is None else math.exp(-high),
            high=None if low is None else math.exp(-low),
        )
        a, b = (_exp(x) for x in _edges(at, fall_hazard, about))
        hazard = Edged(
            estimate=math.exp(about) / hours,
            low=None if a is None else a / hours,
            high=None if b is None else b / hours,
        )
    return AgeAt(
        hours=hours,
        reliability=reliability,
        hazard_per_h=hazard,
        extrapolated=hours > reached_h,
    )
