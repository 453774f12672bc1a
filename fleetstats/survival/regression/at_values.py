"""Life, reliability and hazard at chosen values of covariates, with likelihood limits.

The model is the accelerated life of `regression`. A limit of the life of a share p is where the
profile of the likelihood with that life held has fallen by the chi-square's half quantile; limits
of reliability and hazard at an age hold the cumulative hazard or the hazard there (`held_law.py`).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import flags_of
from fleetstats.core.gate import FLAG, FLAGS, HOURS_EACH, LEVEL, NUMBERS, PROBABILITIES, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.parameter import profile_drop
from fleetstats.survival.regression.accelerated import Problem
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind
from fleetstats.survival.regression.fitted import Fitted, bare_levels, level_columns
from fleetstats.survival.regression.held_law import (
    AgeAt,
    Edged,
    HeldLaw,
    LifeAt,
    hold_age,
    hold_life,
)


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
    asked: ArrayLike,
    like: ArrayLike,
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
        edged = hold_life(at, p)
        told_lives.append(LifeAt(p=p, life_h=edged, extrapolated=_beyond(edged, reached)))
    return LawAt(
        lives=tuple(told_lives),
        ages=tuple(hold_age(at, t, reached) for t in ages_h),
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
) -> HeldLaw:
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
    drop = -math.log(tail) if one_sided else profile_drop(level)
    return HeldLaw(
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
