"""A maximum over the levels that have one, and the limit of those that have none.

A level without a failure has no life factor: the longer its life is taken to be, the likelier that
it did not fail. Only a lower limit can be given, and only one-sided.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import NoMaximum
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival.regression.accelerated import Problem, Solution, solve_accelerated
from fleetstats.survival.regression.covariates import Covariates

PRIOR_LOG_SD = 0.5
"""Standard deviation of the prior of a log life factor, per standard deviation of a numeric
covariate or per group level: 95 % of factors between about 0.38 and 2.7 (a choice, no source)."""

LOWEST_LOG = 64.0
"""Log life factor past which no limit is looked for."""


def bare_levels(lives: Spells, covariates: Covariates) -> Array:
    """Return (k,) bool: which columns are levels without a failure, so without a top."""
    return np.array(
        [
            ": " in name and not lives.weight[lives.failed & (x > 0)].any()
            for name, x in zip(covariates.names, covariates.values.T, strict=True)
        ],
        dtype=bool,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A maximum over some columns of a design, by the lives of which it speaks.

    `rows` (n,) are the lives, `columns` (k,) the covariates, both bool; `ridge` (1 + m,) is the
    prior's precision.
    """

    problem: Problem
    design: Array
    ridge: Array
    best: Solution
    rows: Array
    columns: Array

    @classmethod
    def of(cls, lives: Spells, covariates: Covariates, columns: Array, *, held: bool) -> Fitted:
        """Fit `columns` to the lives of no other level; `held` adds the prior around no effect."""
        left = covariates.values[:, ~columns] != 0
        rows = ~(left & level_columns(covariates)[~columns]).any(axis=1)
        values = covariates.values[np.ix_(rows, columns)]
        design = np.column_stack([np.ones(int(rows.sum())), values])
        ridge = np.zeros(design.shape[1])
        if held:
            ridge[1:] = 1.0 / (PRIOR_LOG_SD * _prior_unit(covariates)[columns]) ** 2
        problem = Problem.of(lives.select(rows))
        best = solve_accelerated(problem, design, penalty=ridge)
        return cls(
            problem=problem, design=design, ridge=ridge, best=best, rows=rows, columns=columns
        )


def level_columns(covariates: Covariates) -> Array:
    """Return (k,) bool: which columns stand for a level and not for a number."""
    return np.array([": " in name for name in covariates.names], dtype=bool)


def _prior_unit(covariates: Covariates) -> Array:
    """Change of each covariate that the prior speaks of, as 1 over it in coefficient units."""
    grouped = level_columns(covariates)
    return np.where(grouped, 1.0, 1.0 / np.where(grouped, 1.0, covariates.deviation))


def limit_bare(
    lives: Spells, covariates: Covariates, bare: Array, j: int, level: float, *, held: bool
) -> float | None:
    """Return the lower limit of the life factor of a level without failures, of which all is known.

    Parameters
    ----------
    lives : Spells
        n lives, those that `covariates` kept.
    covariates : Covariates
        Their design.
    bare : (k,) bool
        Columns that are levels without a failure.
    j : int
        The one asked for.
    level : float
        Two-sided; the limit is one of its edges.
    held : bool
        Whether the other effects are held back towards none.

    Notes
    -----
    The likelihood climbs for ever, and reaches there what the others have without it. The limit
    is where it has fallen from that by ``-log((1 - level) / 2)``: at a known shape that is the
    exact conditional limit, since the chance that none of r failures fell in the level is
    ``(E0 / (E0 + ratio E1))^r``, which is the fall of the profile itself.
    """
    from scipy import optimize

    others = Fitted.of(lives, covariates, ~bare, held=held)
    mine = ~bare
    mine[j] = True
    left = (covariates.values[:, ~mine] != 0) & level_columns(covariates)[~mine]
    rows = ~left.any(axis=1)
    problem = Problem.of(lives.select(rows))
    design = np.column_stack([np.ones(int(rows.sum())), covariates.values[np.ix_(rows, ~bare)]])
    offset = covariates.values[rows, j]
    drop = -float(np.log(0.5 * (1.0 - level)))
    start = np.concatenate([others.best.coef, [np.log(others.best.shape)]])

    def gap(b: float) -> float:
        fit = solve_accelerated(
            problem, design, offset=offset * b, penalty=others.ridge, start=start
        )
        return others.best.objective - fit.objective - drop

    try:
        near, far = 0.0, 1.0
        if gap(near) < 0.0:
            near, far = -1.0, 0.0
            while gap(near) < 0.0 and near > -LOWEST_LOG:
                near, far = 2.0 * near, near
        else:
            while gap(far) > 0.0 and far < LOWEST_LOG:
                near, far = far, 2.0 * far
        return float(np.exp(optimize.brentq(gap, near, far, xtol=1e-9)))
    except (NoMaximum, ValueError):
        return None
