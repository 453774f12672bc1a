"""Simulated seasons of a fleet: when its engines fail, month by month, and what comes due.

Each season takes one draw of the law of life. A small fleet draws each engine's own end; in a large
one few of many engines fail, so the failures alone are drawn, from the same law: events come to the
fleet at the sum of its hazards, each falls on an engine by its share of them, and the first that
falls on an engine is its failure.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.core.value import Array
from fleetstats.survival.counting.count_law import poisson_binomial

PATHS = 4000
"""Simulated seasons behind alert level and reserve."""

MANY = 5_000
"""Engines from which on the failures alone are drawn; with fewer that takes no less time."""

FEW_FAIL = 0.1
"""Events by engine up to which the failures alone are drawn; above, each engine's own end."""

_CELLS = 2_000_000
"""Seasons times engines drawn at once, to bound memory."""


def season_paths(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Simulate cumulative failures by shares of the season.

    Parameters
    ----------
    draws : LifeCurves
        Laws of life; seasons take them in turn.
    age_h, width_h : (n,) float
        Hours of each engine, and hours that it will run in the season.
    share : (m,) float
        Rising, to 1.
    rng : Generator
        Its own stream.

    Returns
    -------
    (PATHS, m) int
    """
    if len(age_h) >= MANY:
        return failures_alone(draws, age_h, width_h, share, rng)
    return engine_by_engine(draws, age_h, width_h, share, rng)


def engine_by_engine(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Return `season_paths` from each engine's own end."""
    out = np.zeros((PATHS, len(share)), dtype=np.int64)
    block = max(1, _CELLS // max(1, len(age_h)))
    for first in range(0, PATHS, block):
        rows = np.arange(first, min(PATHS, first + block)) % len(draws)
        part = draws.select(rows)
        on = part.further(age_h, rng.exponential(size=(len(rows), len(age_h))))
        when = on / np.maximum(width_h, 1e-12)
        for j, s in enumerate(share):
            out[first : first + len(rows), j] = (when <= s).sum(axis=1)
    return out


def failures_alone(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Return `season_paths` from the failures alone."""
    out = np.zeros((PATHS, len(share)), dtype=np.int64)
    block = max(1, _CELLS // max(1, len(age_h)))
    for first in range(0, min(len(draws), PATHS), block):
        rows = np.arange(first, min(first + block, len(draws), PATHS))
        part = draws.select(rows)
        start = part.cumulative_hazard(age_h)
        ahead = np.maximum(part.cumulative_hazard(age_h + width_h) - start, 0.0)
        for k, b in enumerate(rows):
            seasons = np.arange(b, PATHS, len(draws))
            season, engine, met = _events(start[k], ahead[k], part.factor[k], len(seasons), rng)
            log_met = np.log(np.maximum(met, 1e-300))
            at_h = np.exp(np.interp(log_met, part.log_hazard[k], np.log(draws.hours)))
            when = (at_h - age_h[engine]) / np.maximum(width_h[engine], 1e-12)
            month = np.minimum(np.searchsorted(share, when, side="left"), len(share) - 1)
            counts = np.bincount(season * len(share) + month, minlength=len(seasons) * len(share))
            out[seasons] = counts.reshape(len(seasons), len(share)).cumsum(axis=1)
    return out


def _events(
    start: Array, ahead: Array, factor: float, seasons: int, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Return (e,) seasons and engines of failures, and the hazard that each had met then.

    An event lies within its engine's own hazard as evenly as in the fleet's, and of those that fall
    on one engine the first counts. Where most engines fail, each draws its own end.
    """
    until = np.cumsum(ahead)
    if factor * until[-1] > FEW_FAIL * len(ahead):
        own = rng.exponential(1.0 / factor, size=(seasons, len(ahead)))
        season, engine = np.nonzero(own <= ahead)
        return season, engine, start[engine] + own[season, engine]
    season = np.repeat(np.arange(seasons), rng.poisson(factor * until[-1], seasons))
    at = until[-1] * rng.random(len(season))
    engine = np.minimum(np.searchsorted(until, at, side="right"), len(until) - 1)
    met = start[engine] + np.clip(at - until[engine] + ahead[engine], 0.0, ahead[engine])
    whose = season * len(ahead) + engine
    order = np.lexsort((met, whose))
    first = order[np.diff(whose[order], prepend=-1) > 0]
    return season[first], engine[first], met[first]


def season_ends(
    draws: LifeCurves, age_h: Array, exposed_h: Array, due: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Simulate the failures of a season, and the overhauls that come due.

    Parameters
    ----------
    draws : LifeCurves
        Laws of life; seasons take them in turn.
    age_h, exposed_h : (n,) float
        Hours of each engine, and those that it runs before the season ends or it is overhauled.
    due : (n,) bool
        Whether it is overhauled where it does not fail before.
    rng : Generator
        Its own stream.

    Returns
    -------
    (PATHS,) int, (PATHS,) int
        Failures, and overhauls.
    """
    if len(age_h) >= MANY:
        return _ends_by_law(draws, age_h, exposed_h, due, rng)
    rows = np.arange(PATHS) % len(draws)
    failed, done = np.zeros(PATHS, dtype=np.int64), np.zeros(PATHS, dtype=np.int64)
    block = max(1, _CELLS // max(1, len(age_h)))
    for first in range(0, PATHS, block):
        pick = rows[first : first + block]
        part = draws.select(pick)
        fails = rng.random((len(pick), len(age_h))) < part.conditional_failure(age_h, exposed_h)
        failed[first : first + len(pick)] = fails.sum(axis=1)
        done[first : first + len(pick)] = (~fails & due).sum(axis=1)
    return failed, done


def _ends_by_law(
    draws: LifeCurves, age_h: Array, exposed_h: Array, due: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return `season_ends` from the law of each draw's two counts of failures."""
    p = draws.conditional_failure(age_h, exposed_h)
    of_due, others = (_one_of_each(poisson_binomial(p[:, which]), rng) for which in (due, ~due))
    return of_due + others, int(due.sum()) - of_due


def _one_of_each(law: Array, rng: np.random.Generator) -> Array:
    """Return (PATHS,) counts, drawn from laws (B, k) in turn."""
    out = np.empty(PATHS, dtype=np.int64)
    for b in range(min(len(law), PATHS)):
        seasons = np.arange(b, PATHS, len(law))
        u = rng.random(len(seasons))
        out[seasons] = np.minimum(np.searchsorted(law[b].cumsum(), u), law.shape[1] - 1)
    return out
