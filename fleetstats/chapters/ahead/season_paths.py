"""Simulated seasons of a fleet: when its engines fail, month by month, and what comes due.

Each season takes one draw of the law of life. A small fleet draws each engine's own end; a large
one the failures of groups of engines that fail with nearly one chance (`alike`).
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.alike import Alike
from fleetstats.core.value import Array

PATHS = 4000
"""Simulated seasons behind alert level and reserve."""

MANY = 1_000
"""Engines from which on groups are drawn; with fewer that takes no less time."""

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
        return group_by_group(draws, age_h, width_h, share, rng)
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


def group_by_group(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, rng: np.random.Generator
) -> Array:
    """Return `season_paths` from the failures of groups that are alike."""
    chance = draws.conditional_failure(age_h, width_h)
    alike = Alike.of(chance.mean(axis=0), age_h)
    by_month = _by_month(draws, age_h, width_h, share, alike)
    end = by_month[:, :, -1]
    # followed at the middle of cells, brought to the chances of the engines themselves
    by_month *= (alike.of_groups(chance) / np.where(end > 0.0, end, 1.0))[:, :, None]
    np.minimum(by_month, 1.0, out=by_month)
    parts = np.diff(by_month, axis=2, prepend=0.0, append=1.0)
    out = np.zeros((PATHS, len(share)), dtype=np.int64)
    for b in range(min(len(draws), PATHS)):
        seasons = np.arange(b, PATHS, len(draws))
        failed = rng.multinomial(alike.size, parts[b], size=(len(seasons), len(alike.size)))
        out[seasons] = failed[:, :, :-1].sum(axis=1).cumsum(axis=1)
    return out


def _by_month(
    draws: LifeCurves, age_h: Array, width_h: Array, share: Array, alike: Alike
) -> Array:  # fmt: skip
    """Return (B, G, m) chances of failing by each share of the season."""
    age, width = alike.of_cells(age_h), alike.of_cells(width_h)
    chances = (draws.conditional_failure(age, s * width) for s in share)
    out = np.stack([alike.over_cells(c) for c in chances], axis=2)
    return np.asarray(np.maximum.accumulate(out, axis=2))


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
        return _ends_by_group(draws, age_h, exposed_h, due, rng)
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


def _ends_by_group(
    draws: LifeCurves, age_h: Array, exposed_h: Array, due: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return `season_ends` from the failures of groups of those due, and of the others."""
    chance = draws.conditional_failure(age_h, exposed_h)
    of_due, others = (
        _drawn(chance[:, which], age_h[which], rng) if which.any() else np.zeros(PATHS, np.int64)
        for which in (due, ~due)
    )
    return of_due + others, int(due.sum()) - of_due


def _drawn(chance: Array, age_h: Array, rng: np.random.Generator) -> Array:
    """Return (PATHS,) failures of engines with chances (B, n), seasons taking the draws in turn."""
    alike = Alike.of(chance.mean(axis=0), age_h)
    of_group = np.minimum(alike.of_groups(chance), 1.0)
    turn = np.arange(PATHS) % len(of_group)
    return np.asarray(rng.binomial(alike.size, of_group[turn]).sum(axis=1))
