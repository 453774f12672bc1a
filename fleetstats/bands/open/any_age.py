"""Bounds of the rate where failures have any ages within their limits: the worst, shape by shape.

A row is a number of failures whose ages are known and a number of the others. Ages enter by the sum
of their logs alone, in which the deviance of one shape is convex, and the best shape rises with it:
any shape between the best at the least and the best at the greatest ages is the best at some ages.
So a row stands at its full level there, and falls on either side by one deviance: to the left by
that of the least ages, to the right by that of the greatest. As in `LeftOpen._near` the shapes that
a row leaves open lie together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.open.lattice import Misfit
from fleetstats.bands.open.poisson_bound import log_bounds_at
from fleetstats.core.value import Array

STRIDE = 16
"""Every so manieth shape is looked at first."""

SLACK = 1e-3
"""Deviance by which the first look may err: the rounding of its product is far less."""

CHUNK = 500_000
"""Deviances of the first look that are held at a time."""


def runs(start: Array, stop: Array) -> tuple[Array, Array]:
    """Return row and column of all columns from (R,) `start` to before `stop`, row after row."""
    size = np.maximum(stop - start, 0)
    row = np.repeat(np.arange(len(size)), size)
    return row, np.arange(len(row)) + np.repeat(start - (np.cumsum(size) - size), size)


@dataclass(frozen=True, slots=True)
class AnyAge:
    """Rows of failures, by numbers of unknown age (L) and of known age (K).

    Parameters
    ----------
    r : (L, K) float
        Failures of both kinds.
    sums : (2, L, K) float
        Sums of log ages, with the unknown ones at their least and at their greatest.
    full : (L, K) float
        Deviance from which on a shape is ruled out.
    ease : (L,) float
        By how much the second rate of so many is eased.
    """

    r: Array
    sums: Array
    full: Array
    ease: Array

    def reach(self, rough: Misfit, last: int) -> tuple[Array, Array, Array]:
        """Return (2, L, K) shapes near the best, from which on, and before which some may be open.

        Parameters
        ----------
        rough : Misfit
            Of every `STRIDE`-th shape.
        last : int
            The last shape of all.
        """
        r, full = self.r.ravel(), self.full.ravel() + SLACK
        size = len(rough.gain)
        out = np.empty((3, 2, len(r)), dtype=np.int64)
        step = max(1, CHUNK // size)
        for end, sums in enumerate(self.sums.reshape(2, -1)):
            for i in range(0, len(r), step):
                own = slice(i, i + step)
                misfit = rough.roughly(r[own], sums[own])
                best = misfit.argmin(axis=1)
                limit = misfit[np.arange(len(best)), best] + full[own]
                near = misfit <= limit[:, None]
                out[0, end, own] = best
                out[1, end, own] = near.argmax(axis=1) - 1
                out[2, end, own] = size - near[:, ::-1].argmax(axis=1)
        best, start, stop = (STRIDE * out).reshape(3, 2, *self.r.shape)
        return best, np.maximum(start, 0), np.minimum(stop, last) + 1

    def best(self, misfit: Misfit, near: Array) -> tuple[Array, Array]:
        """Return (2, L, K) the best shapes, sought beside those `near` them, and their misfits."""
        window = near[..., None] + np.arange(-STRIDE, STRIDE + 1)
        window = np.clip(window, 0, len(misfit.gain) - 1)
        found = misfit.take(window).at(self.r[None, :, :, None], self.sums[..., None])
        at = found.argmin(axis=-1)[..., None]
        best, least = (np.take_along_axis(x, at, axis=-1)[..., 0] for x in (window, found))
        return best, least


@dataclass(frozen=True, slots=True)
class Levels:
    """The log bound of the mean of each row at any level.

    Parameters
    ----------
    numbers, most : (U,) float
        Numbers of failures, and the greatest deviate of each.
    which : (L, K) int
        The number of each row.
    top, top_eased : (L, K) float
        Bounds at the greatest deviate.
    """

    numbers: Array
    most: Array
    which: Array
    top: Array
    top_eased: Array

    @classmethod
    def of(cls, asked: AnyAge) -> Levels:
        """Prepare the rows; of both kinds of failures together few numbers differ."""
        numbers, first, which = np.unique(asked.r, return_index=True, return_inverse=True)
        which = which.reshape(asked.r.shape)
        most = np.sqrt(asked.full.ravel()[first])
        top = log_bounds_at(numbers, most, np.arange(len(most)), most)[which]
        return cls(numbers, most, which, top, top - asked.ease[:, None])

    def worst(
        self, asked: AnyAge, misfit: Misfit, near: Array, start: Array, stop: Array
    ) -> tuple[Array, Array]:
        """Return (K, G) the worst bounds over all numbers of unknown age, as they are and eased.

        ``-inf`` for shapes that none leaves open. `near`, `start` and `stop` as of `AnyAge.reach`.
        """
        best, least = asked.best(misfit, near)
        out = np.full((2, self.top.shape[1], len(misfit.gain)), -np.inf)
        first, last = self._hold_full(out, *best)
        # beside what is held already, or from the best on
        to = np.where(best[0] <= last + 1, np.minimum(best[0], first), best[0])
        past = np.where(best[1] >= first - 1, np.maximum(best[1], last), best[1]) + 1
        begin, end = np.stack([start[0], np.maximum(past, to)]), np.stack([to, stop[1]])
        n, i = len(self.top), 0
        while i < n:
            # what the first numbers hold spares most of the others
            own = slice(i, 2 * i + 1)
            self._hold_flanks(out, asked, misfit, own, (least[:, own], begin[:, own], end[:, own]))
            i = own.stop
        return out[0], out[1]

    def _hold_full(self, out: Array, low: Array, high: Array) -> tuple[Array, Array]:
        """Hold shapes from `low` to `high` (L, K) to the full level of their rows.

        Fewer failures stand lower, so that shapes held before are not held again. Returns (L, K)
        first and last of those that a row or one before it holds, all between them too.
        """
        covered, start, stop = np.empty((3, 2, *low.shape), dtype=np.int64)
        first, last = low[0] + 1, low[0]
        for j in range(len(low)):
            start[:, j] = low[j], np.maximum(low[j], last + 1)
            stop[:, j] = np.minimum(high[j] + 1, first), high[j] + 1
            joined = (low[j] <= last + 1) & (high[j] >= first - 1)
            first = np.where(joined, np.minimum(first, low[j]), first)
            last = np.where(joined, np.maximum(last, high[j]), last)
            covered[:, j] = first, last
        row, _, cell = self._cells(start, stop, out.shape[2])
        for held, top in zip(out.reshape(2, -1), (self.top, self.top_eased), strict=True):
            np.maximum.at(held, cell, np.tile(top.ravel(), 2)[row])
        return covered[0], covered[1]

    @staticmethod
    def _cells(start: Array, stop: Array, n_shapes: int) -> tuple[Array, Array, Array]:
        """Return row, shape and place in (K, G) of what lies between (2, L, K) starts and stops."""
        row, column = runs(start.ravel(), stop.ravel())
        known = np.broadcast_to(np.arange(start.shape[2]) * n_shapes, start.shape)
        return row, column, known.ravel()[row] + column

    def _hold_flanks(
        self,
        out: Array,
        asked: AnyAge,
        misfit: Misfit,
        own: slice,
        flanks: tuple[Array, Array, Array],
    ) -> None:
        """Hold shapes of some numbers, each from its start to before its stop, to what is left.

        `flanks` are the least misfits, starts and stops (2, L, K).
        """
        least, start, stop = flanks
        row, column, cell = self._cells(start, stop, out.shape[2])
        n_ends, _, n_known = start.shape
        flat = out.reshape(2, -1)
        top, top_eased = (np.tile(x[own].ravel(), n_ends) for x in (self.top, self.top_eased))
        # where a row stands higher already, no level of this one can be the worst
        asks = (top[row] > flat[0, cell]) | (top_eased[row] > flat[1, cell])
        row, column, cell = row[asks], column[asks], cell[asks]
        r, full, which = (
            np.tile(x[own].ravel(), n_ends) for x in (asked.r, asked.full, self.which)
        )
        sums, least = asked.sums[:, own].ravel(), least.ravel()
        left = full[row] - (misfit.take(column).at(r[row], sums[row]) - least[row])
        is_open = left >= 0.0
        row, cell = row[is_open], cell[is_open]
        mean = log_bounds_at(self.numbers, self.most, which[row], np.sqrt(left[is_open]))
        ease = np.tile(np.repeat(asked.ease[own], n_known), n_ends)
        np.maximum.at(flat[0], cell, mean)
        np.maximum.at(flat[1], cell, mean - ease[row])
