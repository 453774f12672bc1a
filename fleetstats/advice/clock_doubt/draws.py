"""Clocks drawn from their stated doubt, and what they do to the hazard of a fleet.

True hours are hours read times a factor, whose log is normal about 0 with the standard deviation
stated; a share of its variance is the same for all engines, in proportion to the doubt of each. A
factor that all have in common only moves the age that is asked; where doubts differ, by the one
doubt of all that moves the hazard as much (`doubts.py`). What each engine's own adds is seen by
changing the hours of a fleet, all those of one engine alike, and fitting it anew.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.advice.clock_doubt.doubts import HELD, EngineDoubts, engine_doubts
from fleetstats.core.kept import kept
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

DRAWS = 1001
"""Draws of the common factor and of the doubt of the estimate, each by even strata."""

FLEETS = 60
"""Fleets with each engine's own clock changed; their effects are small and used in turn."""


@dataclass(frozen=True, slots=True)
class ClockDraws:
    """Draws of clocks.

    Parameters
    ----------
    z : (k,) float
        Standard normal draws of the doubt of the estimate.
    common : (k,) float
        Log of the factor that all engines have in common, where its doubt is the greatest.
    level, turn : (k,) float
        What the engines' own factors do to the log cumulative hazard at the hours `about_h`, and
        for each unit of log age beyond.
    about_h : float
    doubts : EngineDoubts
    """

    z: Array
    common: Array
    level: Array
    turn: Array
    about_h: float
    doubts: EngineDoubts

    def common_at(self, log_age: float) -> Array:
        """Return the log (k,) of the common factor as it moves the hazard at an age."""
        top = self.doubts.greatest
        return self.common * (self.doubts.at(log_age) / top if top > 0.0 else 1.0)

    def moved(self, log_age: float) -> Array:
        """Return the change (k,) of the log cumulative hazard at an age by the own factors."""
        return np.asarray(self.level + self.turn * (log_age - math.log(self.about_h)))


def careful_factors(spells: Spells, keys: ClockKeys, confidence: float, hours: Array) -> Array:
    """Return the factors (m,), at most 1, that the clocks have in common at ages (m,).

    Parameters
    ----------
    spells : Spells
        The fleet.
    keys : ClockKeys
        The study's doubt of the clocks.
    confidence : float
        One-sided.
    hours : (m,) float
        Ages.
    """
    from scipy.special import ndtri

    doubts = engine_doubts(spells, keys)
    z = math.sqrt(keys.together) * max(float(ndtri(confidence)), 0.0)
    if doubts.least == doubts.greatest:
        return np.full(np.shape(hours), math.exp(-doubts.greatest * z))
    ages = np.log(np.maximum(hours, 1e-9))
    return np.exp(-z * np.array([doubts.at(x) for x in ages]))


def draw_clocks(spells: Spells, keys: ClockKeys, seed: int) -> ClockDraws:
    """Return the draws of a fleet's clocks, made once for spells, doubt and seed."""
    key = ("clocks", keys.doubt, keys.together, seed)
    return kept(spells, key, lambda: _draw(spells, keys, seed))


def _draw(spells: Spells, keys: ClockKeys, seed: int) -> ClockDraws:
    from scipy.special import ndtri

    doubts = engine_doubts(spells, keys)
    strata = np.asarray(ndtri((np.arange(DRAWS) + 0.5) / DRAWS))
    rng = stream(seed, "clocks in common")
    common = doubts.greatest * math.sqrt(keys.together) * rng.permutation(strata)
    own_sd = doubts.log_sd * math.sqrt(1.0 - keys.together)
    level = turn = np.zeros(1)
    if own_sd.any():
        level, turn = _own(spells, doubts.engine, own_sd, seed)
    return ClockDraws(
        z=rng.permutation(strata),
        common=common,
        level=np.resize(level, DRAWS),
        turn=np.resize(turn, DRAWS),
        about_h=max(spells.oldest_h, 1.0),
        doubts=doubts,
    )


def _own(spells: Spells, engine: Array, log_sd: Array, seed: int) -> tuple[Array, Array]:
    """Return level and turn of the log cumulative hazard, a fleet each; a log sd an engine."""
    before = _line(spells)
    out = []
    for k in range(FLEETS):
        by = np.exp(log_sd * stream(seed, "each clock", k).standard_normal(len(log_sd)))
        own = by[engine]
        hours = {f: getattr(spells, f) * own for f in ("entry", "exit_lower", "exit_upper")}
        after = _line(spells.replace(**hours, assumed_h=spells.assumed_h * own), before)
        # At the oldest age seen before, so that all fleets are compared at one age.
        out.append((after[0] - before[0], after[1] - before[1]))
    level, turn = np.array(out).T
    return level, turn


def _line(
    spells: Spells, before: tuple[float, float, float] | None = None
) -> tuple[float, float, float]:
    """Return log cumulative hazard at the oldest age (of `before`, if given), shape, that age.

    Without a fit the failures, at least one, are spread over what the lives were through with the
    shape held: that of `before`, or `HELD`.
    """
    age = max(spells.oldest_h, 1.0) if before is None else before[2]
    fit = try_fit(spells) if spells.n_failed >= 2.0 else None
    if fit is not None:
        return fit.shape * math.log(age / fit.scale_h), fit.shape, age
    shape = HELD if before is None else before[1]
    worth = spells.weight * ((spells.exit_upper / age) ** shape - (spells.entry / age) ** shape)
    return math.log(max(spells.n_failed, 1.0) / float(worth.sum())), shape, age
