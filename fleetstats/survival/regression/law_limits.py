"""Profile-likelihood limits of what a Weibull regression has besides its effects.

The shape is held by leaving log shape alone. The intercept is the log life by which 63.2 % have
failed where every covariate is 0: held, the log cumulative hazard at that age is 0 there. Both are
directions that the climb of `accelerated` leaves alone (Lawless 2003, sections 4.1 and 6.3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array
from fleetstats.survival.parameter import Parameter, profile_drop, walk_out
from fleetstats.survival.regression.accelerated import Problem, Solution, climb_through

FARTHEST = 40.0
"""Distance in logs past which no limit is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LawProfile:
    """The likelihood of a regression with shape or intercept held.

    Parameters
    ----------
    problem : Problem
    design : (n, 1 + k) float
        The first column all ones.
    best : Solution
    penalty : (1 + k,) float
        Precision of the prior of each coefficient; the intercept has none.
    """

    problem: Problem
    design: Array
    best: Solution
    penalty: Array

    def shape(self, level: float) -> Parameter:
        """Return the common shape with its limits."""
        spread = math.sqrt(self.best.covariance()[-1, -1])
        low, high = self._edges(0, math.log(self.best.shape), spread, level)
        return Parameter(
            name="shape",
            unit="",
            estimate=self.best.shape,
            std_error=self.best.shape * spread,
            low=None if low is None else math.exp(low),
            high=None if high is None else math.exp(high),
            level=level,
        )

    def intercept(self, level: float, unit: str = "log h") -> Parameter:
        """Return the log life where all covariates are 0 with its limits."""
        spread = math.sqrt(self.best.covariance()[0, 0])
        low, high = self._edges(1, float(self.best.coef[0]), spread, level)
        return Parameter(
            name="intercept",
            unit=unit,
            estimate=float(self.best.coef[0]),
            std_error=spread,
            low=low,
            high=high,
            level=level,
        )

    def _edges(
        self, row: int, best: float, spread: float, level: float
    ) -> tuple[float | None, float | None]:
        dx, drop = self.design[:, 1:], profile_drop(level)
        free = np.delete(np.eye(dx.shape[1] + 2), row, axis=1)

        def short(x: float) -> float:
            theta, age = self._beside(row, x)
            value = climb_through(
                self.problem, dx, theta, log_age=age, free=free, penalty=self.penalty[1:]
            )[1]
            return self.best.objective - value - drop

        out: list[float | None] = []
        for sign in (-1.0, 1.0):
            try:
                out.append(
                    walk_out(short, best, sign, step=1.5 * spread, farthest=FARTHEST, xtol=1e-9)
                )
            except (NoMaximum, NotConverged):
                out.append(None)
        return out[0], out[1]

    def _beside(self, row: int, x: float) -> tuple[Array, float]:
        """Return where to begin with row 0 or 1 held at `x`, and the log age that this is about.

        The others begin where they are likeliest by the curvature at the top.
        """
        best, spread = self.best, self.best.covariance()
        centre = np.append(best.coef, -math.log(best.shape))
        held = -1 if row == 0 else 0
        to = -x if row == 0 else x
        at = centre + spread[held] / spread[held, held] * (to - centre[held])
        shape, age = math.exp(-at[-1]), float(best.coef[0]) if row == 0 else x
        theta = np.concatenate([[-at[-1], shape * (at[0] - age)], shape * at[1:-1]])
        return theta, age
