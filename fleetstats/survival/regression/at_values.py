"""Life, reliability and hazard at chosen values of covariates, with likelihood limits.

The model is the accelerated life of `regression`. A limit of the life of a share p is where the
profile of the likelihood with that life held has fallen by the chi-square's half quantile; limits
of reliability and hazard at an age hold the cumulative hazard or the hazard there. All three are
linear in ``(log shape, log cumulative hazard, g)``, so one Newton solver serves them (Lawless 2003,
sections 5.1 and 6.3; Meeker & Escobar 1998, section 8.3).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.arguments import flags_of
from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.gate import FLAG, FLAGS, HOURS_EACH, LEVEL, NUMBERS, PROBABILITIES, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.accelerated import Problem, climb_through
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind
from fleetstats.survival.regression.fitted import Fitted, bare_levels, level_columns

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


@value
class LawAt(Value):
    """What the model says at some values.

    Parameters
    ----------
    lives : tuple of LifeAt
        One for each share asked for.
    ages : tuple of AgeAt
        One for each age asked for.
    reached_h : float
        Greatest hours of any life of which the answer speaks; 0 where there is none.
    n, n_failed : float
        Such lives, and failures among them.
    one_sided : bool
        Whether a level asked for has no failure, so that there is no estimate and each limit is
        one-sided.
    level : float
    """

    lives: tuple[LifeAt, ...]
    ages: tuple[AgeAt, ...]
    reached_h: float
    n: float
    n_failed: float
    one_sided: bool
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _At:
    """The likelihood about the values asked for: `dx` (n, k) is covariates less those."""

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


@gate(
    spells=LIVES,
    covariates=COVARIATES,
    asked=NUMBERS,
    like=FLAGS,
    shares=PROBABILITIES,
    ages_h=HOURS_EACH,
    level=LEVEL,
    held_back=FLAG,
)
def quote_at(
    spells: Spells,
    covariates: Covariates,
    asked: Array,
    like: Array,
    *,
    shares: tuple[float, ...],
    ages_h: tuple[float, ...],
    level: float = 0.90,
    held_back: bool = False,
) -> LawAt:
    """Return life, reliability and hazard at chosen values of covariates.

    Parameters
    ----------
    spells : Spells
        The lives that `covariates` was built from.
    covariates : Covariates
        As `build_covariates` returns them.
    asked : (k,) float
        The values, on the design's own scale (numbers less their centre, levels 0 or 1).
    like : (n0,) bool
        The lives of which the answer speaks; ages beyond the oldest of them are extrapolated.
    shares : tuple of float
        Shares failed whose lives are given, in (0, 1).
    ages_h : tuple of float
        Ages in hours at which reliability and hazard are given.
    level : float
        Two-sided.
    held_back : bool
        Whether effects are held back towards none, as in the regression beside it.

    Returns
    -------
    LawAt
        Life of each share, reliability and hazard at each age, with limits by likelihood.

    Raises
    ------
    FitError
        If there is no fit to quote from.

    References
    ----------
    Lawless (2003), Statistical Models and Methods for Lifetime Data, sections 5.1
    and 6.3; Meeker & Escobar (1998), Statistical Methods for Reliability Data, section
    8.3.

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> design = fs.build_covariates(lives, {"use": np.arange(40) % 5 * 50.0})
    >>> told = fs.estimate_at_covariates(
    ...     lives, design, [0.0], [True] * 40, shares=(0.10,), ages_h=(800.0,)
    ... )
    >>> b10 = told.lives[0].life_h
    >>> round(b10.estimate), round(b10.low), round(b10.high)
    (845, 546, 1130)
    """
    lives = lives_behind(spells, covariates)
    mine = lives.select(flags_of(like, "like", n=len(spells))[covariates.keep])
    at = _about(lives, covariates, np.asarray(asked, dtype=np.float64), level, held_back)
    reached = mine.oldest_h
    told_lives = []
    for p in shares:
        edged = _life(at, p)
        told_lives.append(LifeAt(p=p, life_h=edged, extrapolated=_beyond(edged, reached)))
    return LawAt(
        lives=tuple(told_lives),
        ages=tuple(_age(at, t, reached) for t in ages_h),
        reached_h=reached,
        n=float(mine.weight.sum()),
        n_failed=mine.n_failed,
        one_sided=at.one_sided,
        level=level,
    )


def _beyond(life: Edged, reached_h: float) -> bool:
    known = life.estimate if life.estimate is not None else life.low
    return known is None or known > reached_h


def _about(
    lives: Spells, covariates: Covariates, asked: Array, level: float, held_back: bool
) -> _At:
    from scipy import special

    bare = bare_levels(lives, covariates)
    wanted = bare & (asked != 0)
    top = Fitted.of(lives, covariates, ~bare, held=held_back)
    columns = ~bare | wanted
    left = (covariates.values[:, ~columns] != 0) & level_columns(covariates)[~columns]
    rows = ~left.any(axis=1)
    shape, coef = top.best.shape, top.best.coef
    own = np.zeros(len(bare))
    own[~bare] = coef[1:]
    ridge = np.zeros(len(bare))
    ridge[~bare] = top.ridge[1:]
    one_sided = bool(wanted.any())
    tail = 0.5 * (1.0 - level)
    drop = -math.log(tail) if one_sided else 0.5 * float(special.ndtri(1.0 - tail)) ** 2
    return _At(
        problem=Problem.of(lives.select(rows)),
        dx=covariates.values[np.ix_(rows, columns)] - asked[columns],
        penalty=ridge[columns],
        start=np.concatenate([[math.log(shape)], shape * own[columns]]),
        top=top.best.objective,
        drop=drop,
        one_sided=one_sided,
        best_shape=shape,
        best_centre=float(coef[0] + asked @ own),
    )


def _edges(
    at: _At, fall: Callable[[float], float], best: float
) -> tuple[float | None, float | None]:
    """Return where the likelihood has fallen far enough, below and above `best`."""
    return _edge(at, fall, best, -1.0), _edge(at, fall, best, 1.0)


def _edge(at: _At, fall: Callable[[float], float], best: float, sign: float) -> float | None:
    from scipy import optimize

    def short(x: float) -> float:
        return fall(x) - at.drop

    inner, outer, step = best, best + sign * FIRST_STEP, FIRST_STEP
    try:
        while short(outer) < 0.0:
            if abs(outer - best) > FARTHEST:
                return None
            inner, step = outer, 1.6 * step
            outer += sign * step
        return float(optimize.brentq(short, inner, outer, xtol=1e-8))
    except (NoMaximum, NotConverged, ValueError):
        return None


def _crossing(at: _At, fall: Callable[[float], float], best: float, sign: float) -> float | None:
    """Return the one edge of a quantity without a best value: the fall rises along `sign`."""
    start = best
    for _ in range(60):
        if fall(start) < at.drop:
            return _edge(at, fall, start, sign)
        start -= sign
    return None


def _exp(x: float | None) -> float | None:
    return None if x is None else math.exp(x)


def _life(at: _At, p: float) -> Edged:
    w = math.log(-math.log1p(-p))
    best = at.best_centre + w / at.best_shape

    def fall(log_life: float) -> float:
        return at.top - at.held(log_life, w, hazard=False)

    if at.one_sided:
        return Edged(estimate=None, low=_exp(_crossing(at, fall, best, -1.0)), high=None)
    low, high = _edges(at, fall, best)
    return Edged(estimate=math.exp(best), low=_exp(low), high=_exp(high))


def _age(at: _At, hours: float, reached_h: float) -> AgeAt:
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
