"""Which shapes a fleet's failures leave open, and at each the bound of its rate.

One row for each number of failures; `open_shapes.py` says by which rule, and joins the rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.open.any_age import STRIDE, AnyAge, Levels, runs
from fleetstats.bands.open.lattice import LatticePower, Misfit
from fleetstats.bands.open.poisson_bound import log_bounds
from fleetstats.bands.open.unplaced import UnplacedAges
from fleetstats.core.value import Array

LIFT, LIFT_AT = 5.0, 8.0
"""c is 1 + LIFT r / (r + LIFT_AT)^2: exact for none, at most 1.16, and 1 again with many."""

MANY_SHAPES = 4096
"""Shapes past which only every so many are looked at first, of failures whose ages are known."""


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
            misfit = self._misfit(self.theta, at).at(r[:, None], sums[:, None])
            left = full[:, None] - (misfit - misfit.min(axis=1, keepdims=True))
            row, column = np.nonzero(left >= 0.0)
            left = left[row, column]
        else:
            row, column, first = self._near(r, sums, full)
            low, high = int(column.min()), int(column.max()) + 1
            at = self.log_power.within(low, high)
            shapes = self._misfit(self.theta[low:high], at[low:high]).take(column - low)
            misfit = shapes.at(r[row], sums[row])
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
        rows = np.add.outer(ages.more, r)
        both = np.stack([ages.sums(sums, rows, end) for end in (0, 1)])
        asked = AnyAge(rows, both, self.full(rows), eased * ages.less)
        some = slice(None, None, STRIDE)
        rough = self._misfit(self.theta[some], self.log_power.every(STRIDE))
        near, start, stop = asked.reach(rough, len(self.theta) - 1)
        low, high = int(start.min()), int(stop.max())
        at = self.log_power.within(low, high)[low:high]
        misfit = self._misfit(self.theta[low:high], at)
        worst, second = Levels.of(asked).worst(asked, misfit, near - low, start - low, stop - low)
        row, column = np.nonzero(worst > -np.inf)
        counts = np.bincount(row, minlength=len(r))
        rate, slow = (x[row, column] - at[column] for x in (worst, second))
        return counts, column + low, rate, slow

    def _misfit(self, theta: Array, log_power: Array) -> Misfit:
        """Return the misfits of log shapes, to be asked of any failures."""
        return Misfit.of(theta, log_power, self.shapes, self.prior)

    def _near(self, r: Array, sums: Array, full: Array) -> tuple[Array, Array, Array]:
        """Return row and column of the shapes that may not be ruled out, and where each row begins.

        Of very many lives nearly all shapes are. The log-likelihood is concave in the shape, as A
        over the shape is log-convex, and the penalty grows away from the stated range: the shapes
        of a row that are left lie together. Where two neighbours of every `STRIDE`-th shape are
        ruled out on one side of the best of these, so are those between.
        """
        some = np.arange(0, len(self.theta), STRIDE)
        rough = self._misfit(self.theta[some], self.log_power.every(STRIDE))
        misfit = rough.at(r[:, None], sums[:, None])
        near = misfit - misfit.min(axis=1, keepdims=True) <= full[:, None]
        near[np.arange(len(r)), misfit.argmin(axis=1)] = True
        first = near.argmax(axis=1)
        last = near.shape[1] - 1 - near[:, ::-1].argmax(axis=1)
        start = some[np.maximum(first - 2, 0)]
        # past the last of them lie fewer than another step
        stop = np.append(some, len(self.theta) - 1)[np.minimum(last + 2, len(some))] + 1
        row, column = runs(start, stop)
        return row, column, np.cumsum(stop - start) - (stop - start)
