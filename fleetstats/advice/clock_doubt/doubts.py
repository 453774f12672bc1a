"""How far the clock of each engine may be wrong, and the doubt that all together come to.

Engines may be stated to differ: by their kind of meter (``[clocks.doubts]``) or each by itself
(column `clock_doubt` of the lives). The part of the doubt that clocks have in common moves each
engine's hours in proportion to its own doubt. What that does to the log cumulative hazard H at an
age follows, to first order, from each engine's influence a = d log H / d log hours on the fit: the
sum of a times its doubt. All clocks moved alike move it by minus the shape, the sum of all a, which
is the same as another age asked; so doubts that differ are answered as that one doubt of all which
moves the hazard as much.

Of engines whose influences have two signs the errors of one would cancel those of others, and more
doubt of some engine would better a bound. So only influences of one sign are added, of the sign
that gives more, and never more is taken than the greatest doubt of any engine: a doubt that grows
in every engine's. Where all are alike it is that doubt itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit

HELD = 4.0
"""Shape held where none can be fitted: the greatest of the default range, under which clocks weigh
most."""


def row_doubts(spells: Spells, keys: ClockKeys) -> Array:
    """Return (n,) log sd of the clock of each row: as stated for it, else the study's."""
    return np.where(np.isnan(spells.clock_sd), keys.doubt, spells.clock_sd)


def clocks_sure(spells: Spells, keys: ClockKeys) -> bool:
    """Return whether no doubt is stated of any clock."""
    return not row_doubts(spells, keys).any()


def every_clock_right(spells: Spells) -> Spells:
    """Return the spells without the doubts that are stated of single engines or kinds of meter."""
    if np.isnan(spells.clock_sd).all():
        return spells
    return spells.replace(clock_sd=np.full(len(spells), np.nan))


@dataclass(frozen=True, slots=True)
class EngineDoubts:
    """The doubt of each engine's clock, the greatest of its rows', and its influence.

    Parameters
    ----------
    engine : (n,) int
        Number of each row's engine.
    log_sd : (m,) float
        Of each engine.
    level, turn : (m,) float
        What the log cumulative hazard at `about_h` hours, and for each unit of log age beyond,
        changes by for each unit of log hours of the engine.
    about_h, shape : float
    """

    engine: Array
    log_sd: Array
    level: Array
    turn: Array
    about_h: float
    shape: float

    @property
    def greatest(self) -> float:
        """Return the greatest log sd of any engine."""
        return float(self.log_sd.max(initial=0.0))

    @property
    def least(self) -> float:
        """Return the least log sd of any engine."""
        return float(self.log_sd.min()) if len(self.log_sd) else 0.0

    def at(self, log_age: float) -> float:
        """Return the one log sd of all clocks that moves the hazard at an age as much."""
        top = self.greatest
        if self.least == top:
            return top
        a = self.level + self.turn * (log_age - math.log(self.about_h))
        # Added up exactly, so that no order of the rows changes a digit.
        up, down = (math.fsum(np.maximum(s * a, 0.0) * self.log_sd) for s in (1.0, -1.0))
        return min(top, max(up, down) / self.shape)


def engine_doubts(spells: Spells, keys: ClockKeys) -> EngineDoubts:
    """Return the doubt of each engine's clock; worked out once for spells and the study's doubt."""
    return kept(spells, ("engine doubts", keys.doubt), lambda: _engine_doubts(spells, keys))


def _engine_doubts(spells: Spells, keys: ClockKeys) -> EngineDoubts:
    rows = row_doubts(spells, keys)
    names, engine = np.unique(spells.unit, return_inverse=True)
    engine = engine.ravel()
    log_sd = np.zeros(len(names))
    np.maximum.at(log_sd, engine, rows)
    about = max(spells.oldest_h, 1.0)
    if not len(names) or log_sd.min() == log_sd.max():
        none = np.zeros(len(names))
        return EngineDoubts(engine, log_sd, none, none, about, HELD)
    fit = try_fit(spells) if spells.n_failed >= 2.0 else None
    shape = HELD if fit is None else fit.shape
    level, turn = _held(spells, about) if fit is None else influence(spells, fit, about)
    level, turn = (np.bincount(engine, weights=x, minlength=len(names)) for x in (level, turn))
    return EngineDoubts(engine, log_sd, level, turn, about, shape)


def _held(spells: Spells, about_h: float) -> tuple[Array, Array]:
    """Return the influences (n,) with the shape held: each row's share of what was lived through.

    With n failures H = n / sum of w ((exit / age)^shape - (entry / age)^shape).
    """
    worth = spells.weight * (
        (spells.exit_upper / about_h) ** HELD - (spells.entry / about_h) ** HELD
    )
    return -HELD * worth / worth.sum(), np.zeros(len(spells))


def influence(spells: Spells, fit: Fit, about_h: float) -> tuple[Array, Array]:
    """Return what a unit of log hours of each row does to the log cumulative hazard of the fit.

    Hours times e^d of one row are its log likelihood with its own level L raised by shape times d,
    where z = L + shape (y - log scale) is the log cumulative hazard at log age y. So its score
    changes by ``(shape h12 + g2, shape h22)`` with the row's own gradient g and Hessian h, and the
    maximum by minus the inverse of the whole Hessian times that (implicit function theorem).

    Returns
    -------
    level, turn : (n,) float
        At `about_h`, and for each unit of log age beyond. The levels sum to minus the shape, the
        turns to 0.
    """
    k, log_scale = fit.shape, math.log(fit.scale_h)

    def powers(hours: Array) -> tuple[Array, Array, Array]:
        with np.errstate(divide="ignore", invalid="ignore"):
            y = np.log(hours) - log_scale
            m = np.exp(k * y)
            return m, np.where(m > 0.0, y * m, 0.0), np.where(m > 0.0, y * y * m, 0.0)

    at_entry, at_lower, at_upper = (
        powers(x) for x in (spells.entry, spells.exit_lower, spells.exit_upper)
    )
    m0, m1, m2 = (b - a for a, b in zip(at_entry, at_lower, strict=True))
    g2, h11, h12, h22 = -m0, -m2, -m1, -m0
    exact = spells.failed & ~spells.interval_known
    g2 = g2 + exact
    h11 = h11 - exact / k**2
    between = spells.interval_known
    d0, d1, d2 = (np.where(between, b - a, 1.0) for a, b in zip(at_lower, at_upper, strict=True))
    u0, u1, u2 = (d / np.expm1(d0) for d in (d0, d1, d2))
    back = np.exp(np.minimum(d0, 700.0))
    g2 = g2 + np.where(between, u0, 0.0)
    h11 = h11 + np.where(between, u2 - back * u1 * u1, 0.0)
    h12 = h12 + np.where(between, u1 - back * u0 * u1, 0.0)
    h22 = h22 + np.where(between, u0 - back * u0 * u0, 0.0)
    w = spells.weight
    whole = np.array([[w @ h11, w @ h12], [w @ h12, w @ h22]])
    score = np.stack([w * (k * h12 + g2), w * k * h22])
    turn, level = -np.linalg.solve(whole, score)
    return level + turn * (math.log(about_h) - log_scale), turn
