"""Draws of what the law of life may be, as curves on ages, so that laws of any kind stand together.

Between ages the log of the cumulative hazard is straight in the log of age: exact for a Weibull.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array, Floats, Value, value

_CELLS = 32_768
"""Cells worked on at once: what a processor keeps near it."""


def _blocks(shape: tuple[int, ...]) -> Iterator[slice]:
    step = max(1, _CELLS // max(shape[1], 1))
    return (slice(i, i + step) for i in range(0, shape[0], step))


@dataclass(frozen=True, slots=True)
class _Between:
    """Where ages lie between those of curves, the same for all draws."""

    before: Array
    part: Array
    new: Array

    @classmethod
    def of(cls, at_h: Array, hours: ArrayLike) -> _Between:
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        log_t = np.log(np.maximum(t, 1e-300))
        log_at = np.log(at_h)
        k = np.clip(np.searchsorted(log_at, log_t) - 1, 0, len(log_at) - 2)
        part = (log_t - log_at[k]) / (log_at[k + 1] - log_at[k])
        return cls(before=k, part=part, new=np.flatnonzero(t <= 0.0))

    def __len__(self) -> int:
        return len(self.part)

    def hazard(self, log_hazard: Array, out: Array) -> Array:
        """Return `out` (b, m) with the cumulative hazard of draws (b, G)."""
        np.take(log_hazard, self.before, axis=1, out=out, mode="clip")
        out *= 1.0 - self.part
        after = np.take(log_hazard, self.before + 1, axis=1, mode="clip")
        after *= self.part
        out += after
        np.minimum(out, 700.0, out=out)
        np.exp(out, out=out)
        out[:, self.new] = 0.0
        return out


@value
class LifeCurves(Value):
    """Draws of the cumulative hazard.

    Parameters
    ----------
    hours : (G,) float
        Ages in hours, rising, above 0.
    log_hazard : (B, G) float
        Logs of the cumulative hazard there, one row to a draw, each rising.
    factor : (B,) float
        What the hazard from an engine's present age on is multiplied by: 1, or what a change of
        the fleet's hazard in calendar time makes of it.
    method, why : str
        How the draws were made, and why so, in one sentence.
    laws : tuple of (str, float)
        What each law weighs.
    """

    hours: Floats
    log_hazard: Array
    factor: Floats
    method: str
    why: str
    laws: tuple[tuple[str, float], ...] = ()

    def __len__(self) -> int:
        return len(self.log_hazard)

    def select(self, rows: Array) -> LifeCurves:
        """Return some of the draws, in the order asked."""
        return LifeCurves(
            hours=self.hours,
            log_hazard=self.log_hazard[rows],
            factor=self.factor[rows],
            method=self.method,
            why=self.why,
            laws=self.laws,
        )

    def times(self, factor: ArrayLike) -> LifeCurves:
        """Return the draws with the hazard ahead multiplied, by one factor or by one to a draw."""
        return LifeCurves(
            hours=self.hours,
            log_hazard=self.log_hazard,
            factor=self.factor * np.asarray(factor, dtype=np.float64),
            method=self.method,
            why=self.why,
            laws=self.laws,
        )

    def cumulative_hazard(self, hours: ArrayLike) -> Array:
        """Return (B, m) minus log reliability at `hours` (m,), without the factor ahead."""
        at = _Between.of(self.hours, hours)
        out = np.empty((len(self), len(at)))
        for rows in _blocks(out.shape):
            at.hazard(self.log_hazard[rows], out[rows])
        return out

    def conditional_failure(self, hours: ArrayLike, width_h: ArrayLike) -> Array:
        """Return (B, m) chances of failing within `width_h` after surviving to `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        w = np.broadcast_to(np.asarray(width_h, dtype=np.float64), t.shape)
        start, end = _Between.of(self.hours, t), _Between.of(self.hours, t + w)
        out = np.empty((len(self), len(t)))
        for rows in _blocks(out.shape):
            rise, log_hazard = out[rows], self.log_hazard[rows]
            end.hazard(log_hazard, rise)
            rise -= start.hazard(log_hazard, np.empty(rise.shape))
            np.maximum(rise, 0.0, out=rise)
            rise *= -self.factor[rows, None]
            np.expm1(rise, out=rise)
            np.negative(rise, out=rise)
        return out

    def further(self, hours: ArrayLike, hazard: Array) -> Array:
        """Return (B, m) hours from `hours` (m,) on in which a hazard (B, m) or (1, m) is met.

        Past the last age of the curves they end there.
        """
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        total = self.cumulative_hazard(t) + hazard / self.factor[:, None]
        log_total = np.log(np.maximum(total, 1e-300))
        log_at = np.log(self.hours)
        end = np.empty_like(total)
        for i in range(len(self)):
            end[i] = np.interp(log_total[i], self.log_hazard[i], log_at)
        return np.asarray(np.maximum(np.exp(end) - t[None, :], 0.0))

    def remaining_life(self, hours: ArrayLike, p: float) -> Array:
        """Return (B, m) further hours within which a share `p` of engines at `hours` fails."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        return self.further(t, np.full((1, len(t)), -np.log1p(-p)))

    def mean_hours(self, hours: float) -> Array:
        """Return (B,) hours that engines replaced at `hours` or at failure run on the mean.

        The integral of reliability, by trapezia on the curves' own ages.
        """
        ages = np.unique(np.concatenate([[0.0], self.hours[self.hours < hours], [hours]]))
        left = np.exp(-self.cumulative_hazard(ages))
        return np.asarray((0.5 * (left[:, 1:] + left[:, :-1])) @ np.diff(ages))
