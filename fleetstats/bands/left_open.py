"""Which shapes a fleet's failures leave open, and at each the bound of its rate.

One row for each number of failures; `bands/open_shapes.py` says by which rule, and joins the rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior, log_prior
from fleetstats.bands.lattice import LatticePower
from fleetstats.bands.poisson_bound import log_bounds, log_bounds_at
from fleetstats.bands.unplaced import UnplacedAges, of_any_age
from fleetstats.core.value import Array

EDGE_SD = 0.35
"""Log distance past the stated range of shapes at which the penalty is that of one deviate. Each
failure adds two of its squares to the square, as in the default prior."""

LIFT, LIFT_AT = 5.0, 8.0
"""c is 1 + LIFT r / (r + LIFT_AT)^2: exact for none, at most 1.16, and 1 again with many."""

MANY_SHAPES, STRIDE = 4096, 16
"""Shapes past which only every so many are looked at first."""


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """What is asked of the shapes of one fleet.

    Parameters
    ----------
    theta : (G,) float
        Log shapes, rising.
    log_power : LatticePower
        Log A of the hours at each.
    shapes : tuple of float
        The stated range, by its ends.
    prior : ShapePrior or None
        A stated prior, in place of the range.
    confidence : float
        One-sided.
    """

    theta: Array
    log_power: LatticePower
    shapes: tuple[float, ...]
    prior: ShapePrior | None
    confidence: float

    def full(self, r: Array) -> Array:
        """Return the deviances from which on a shape is ruled out, one a number of failures."""
        from scipy.special import ndtri

        lift = 1.0 + LIFT * r / (r + LIFT_AT) ** 2
        return np.asarray(lift * float(ndtri(self.confidence)) ** 2)

    def rates(self, r: Array, sums: Array) -> tuple[Array, Array, Array]:
        """Return (K,) how many shapes are left open, and (P,) which of them, and their rates.

        Parameters
        ----------
        r, sums : (K,) float
            Failures of each row, and the sum of the logs of their ages over the reference.
        """
        full = self.full(r)
        if len(self.theta) <= MANY_SHAPES:
            at = self.log_power.within(0, len(self.theta))
            left = full[:, None] - self._deviance(self.theta, at, r, sums)
            row, column = np.nonzero(left >= 0.0)
            left = left[row, column]
        else:
            row, column, first = self._near(r, sums, full)
            at = self.log_power.within(int(column.min()), int(column.max()) + 1)
            misfit = self._misfit(self.theta[column], at[column], r[row], sums[row])
            left = full[row] - (misfit - np.minimum.reduceat(misfit, first)[row])
            is_open = left >= 0.0
            row, column, left = row[is_open], column[is_open], left[is_open]
        counts = np.bincount(row, minlength=len(r))
        mean = log_bounds(r, np.sqrt(full), counts, np.sqrt(left))
        return counts, column, mean - at[column]

    def rates_of_any_age(
        self, r: Array, sums: Array, ages: UnplacedAges, eased: float
    ) -> tuple[Array, Array, Array, Array]:
        """Return the worst over all ages, and numbers left, of failures whose ages are not known.

        Parameters
        ----------
        r, sums : (K,) float
            As in `rates`, of the failures whose ages are known.
        ages : UnplacedAges
            Of the others.
        eased : float
            By how much each of the others that is taken away is to ease the second rate.

        Returns
        -------
        counts, column, rate, rate_eased
            As of `rates`.
        """
        rows = np.add.outer(r, ages.more)
        full = self.full(rows)
        part = self._between(rows, sums, ages, full)
        theta, at = self.theta[part], self.log_power.within(part.start, part.stop)[part]
        # one row for each number of both kinds; of each kind few numbers differ
        each, which = np.unique(rows, return_inverse=True)
        which = which.reshape(rows.shape)
        most = np.sqrt(self.full(each))
        top = log_bounds_at(each, most, np.arange(len(each)), most[:, None])[:, 0]
        worst = np.full((len(r), len(theta)), -np.inf)
        second = worst.copy()
        for j, less in enumerate(ages.less):
            n, highest = rows[:, j], top[which[:, j], None]
            ease = eased * less
            left = full[:, j, None] - of_any_age(
                *(self._deviance(theta, at, n, ages.sums(sums, n, j, end)) for end in (0, 1))
            )
            # where a row stands higher already, no level of this one can be the worst
            asked = (left >= 0.0) & ((highest > worst) | (highest - ease > second))
            column = np.flatnonzero(asked.any(axis=0))
            if not len(column):
                continue
            left, asked = left[:, column], asked[:, column]
            mean = log_bounds_at(each, most, which[:, j], np.sqrt(np.maximum(left, 0.0)))
            mean = np.where(asked, mean, -np.inf)
            worst[:, column] = np.maximum(worst[:, column], mean)
            second[:, column] = np.maximum(second[:, column], mean - ease)
        row, column = np.nonzero(worst > -np.inf)
        counts = np.bincount(row, minlength=len(r))
        rate, slow = (x[row, column] - at[column] for x in (worst, second))
        return counts, column + part.start, rate, slow

    def _between(self, rows: Array, sums: Array, ages: UnplacedAges, full: Array) -> slice:
        """Return the shapes outside which none is left open by any row, as in `_near`."""
        some = np.arange(0, len(self.theta), STRIDE)
        at = self.log_power.every(STRIDE)
        first, last = len(some), 0
        for j in range(rows.shape[1]):
            for end in (0, 1):
                n = rows[:, j]
                rough = self._deviance(self.theta[some], at, n, ages.sums(sums, n, j, end))
                near = np.flatnonzero(((rough <= full[:, j, None]) | (rough == 0.0)).any(axis=0))
                first, last = min(first, int(near[0])), max(last, int(near[-1]))
        return slice(int(some[max(first - 2, 0)]), self._after(some, last))

    def _after(self, some: Array, last: int) -> int:
        """Return the end of the shapes looked at, where place `last` of `some` is the last near."""
        return int(np.append(some, len(self.theta) - 1)[min(last + 2, len(some))]) + 1

    def _deviance(self, theta: Array, log_power: Array, r: Array, sums: Array) -> Array:
        """Return (K, G) deviances of shapes with their penalty, least 0 in each row."""
        out = self._misfit(theta, log_power, r[:, None], sums[:, None])
        return np.asarray(out - out.min(axis=1, keepdims=True))

    def _misfit(self, theta: Array, log_power: Array, r: Array, sums: Array) -> Array:
        """Return minus twice the log-likelihood of shapes with their penalty; broadcast."""
        with np.errstate(invalid="ignore"):
            like = r * (theta - np.where(np.isfinite(log_power), log_power, 0.0))
        like = like + sums * np.exp(theta)
        if self.prior is None:
            past = np.maximum(np.log(min(self.shapes)) - theta, 0.0) + np.maximum(
                theta - np.log(max(self.shapes)), 0.0
            )
            penalty = (past / EDGE_SD) ** 2 / (1.0 + 2.0 * r)
        else:
            penalty = -2.0 * log_prior(self.prior, theta, r)
        return np.asarray(penalty - 2.0 * like)

    def _near(self, r: Array, sums: Array, full: Array) -> tuple[Array, Array, Array]:
        """Return row and column of the shapes that may not be ruled out, and where each row begins.

        Of very many lives nearly all shapes are. The log-likelihood is concave in the shape, as A
        over the shape is log-convex, and the penalty grows away from the stated range: the shapes
        of a row that are left lie together. Where two neighbours of every `STRIDE`-th shape are
        ruled out on one side of the best of these, so are those between.
        """
        some = np.arange(0, len(self.theta), STRIDE)
        rough = self._deviance(self.theta[some], self.log_power.every(STRIDE), r, sums)
        near = rough <= full[:, None]
        near[np.arange(len(r)), rough.argmin(axis=1)] = True
        first = near.argmax(axis=1)
        last = near.shape[1] - 1 - near[:, ::-1].argmax(axis=1)
        start = some[np.maximum(first - 2, 0)]
        # past the last of them lie fewer than another step
        size = np.append(some, len(self.theta) - 1)[np.minimum(last + 2, len(some))] + 1 - start
        row = np.repeat(np.arange(len(r)), size)
        begin = np.cumsum(size) - size
        return row, np.arange(len(row)) + np.repeat(start - begin, size), begin
