"""Draw one fleet: a design and a truth to spells as the records would have them."""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.simulated.laws import ages_at
from fleetstats.survival.simulated.recording import Made
from fleetstats.survival.simulated.truths import MadeTruth, Scaled
from fleetstats.survival.simulated.watch import Watch


def draw_fleet(watch: Watch, truth: MadeTruth, scaled: Scaled, rng: np.random.Generator) -> Spells:
    """Return the spells of one made-up fleet.

    Parameters
    ----------
    watch : Watch
        The design: n lives.
    truth, scaled : MadeTruth, Scaled
        What is true.
    rng : Generator
        Its draws.

    Returns
    -------
    Spells
        Up to n lives, each given survival to its entry.
    """
    clock = _clocks(watch, truth, rng)
    entry = watch.spells.entry / clock
    stop = _stops(watch, rng) / clock
    factor = _factors(watch, truth, scaled, rng)
    age = draw_ages(truth, scaled, entry, watch.change_h / clock, factor, rng)
    failed = age <= stop
    lower = upper = np.where(failed, age, stop)
    if watch.checked > 0.0:
        lower, upper, failed = _at_checks(watch, truth, entry, stop, age, rng)
    made = Made(
        entry=watch.spells.entry,
        lower=np.maximum(lower * clock, watch.spells.entry),
        upper=upper * clock,
        failed=failed,
        row=np.arange(len(age)),
    )
    made = made.select(_begun(watch, failed) & (made.upper > made.entry))
    return truth.recording(made, rng).spells(watch.spells)


def draw_ages(
    truth: MadeTruth,
    scaled: Scaled,
    entry: Array,
    change: Array,
    factor: Array,
    rng: np.random.Generator,
) -> Array:
    """Return true ages (n,) in hours at failure, each past its entry.

    The hazard is that of the law times `factor`, and before `change` hours less by the factor by
    which it has risen since.
    """
    to, risen = scaled.hours, truth.risen

    def hazard(hours: Array) -> Array:
        with np.errstate(divide="ignore"):
            return truth.law(hours / to, scaled.hazard, scaled.shape)

    since = np.maximum(change, 0.0)
    turn = hazard(since)
    here = hazard(entry)
    before = entry < since
    gone = np.where(before, here / risen, here - turn + turn / risen)
    reached = gone + rng.standard_exponential(len(entry)) / factor
    wanted = np.where(reached <= turn / risen, reached * risen, reached - turn / risen + turn)
    age = to * ages_at(truth.law, wanted, scaled.hazard, scaled.shape)
    # interpolation may end a digit short of an entry that it began from
    return np.asarray(np.maximum(age, np.nextafter(entry, np.inf)))


def _clocks(watch: Watch, truth: MadeTruth, rng: np.random.Generator) -> Array:
    """Return (n,) factors from true hours to hours as written, one to an engine."""
    if truth.clock == 1.0:
        return np.ones(len(watch.engine))
    high = rng.random(int(watch.engine.max()) + 1) < 0.5
    return np.asarray(np.where(high, truth.clock, 1.0)[watch.engine])


def _factors(watch: Watch, truth: MadeTruth, scaled: Scaled, rng: np.random.Generator) -> Array:
    """Return (n,) factors on the hazard, one to a batch or to a source."""
    if not truth.spread:
        return np.ones(len(watch.engine))
    of, n = (
        (watch.build, watch.n_builds)
        if truth.spread == "build"
        else (watch.source, watch.n_sources)
    )
    return np.asarray(np.exp(scaled.sd * rng.standard_normal(n))[of])


def _stops(watch: Watch, rng: np.random.Generator) -> Array:
    """Return (n,) hours as written at which watching ends."""
    stop = np.array(watch.stop_known)
    rows = np.flatnonzero(watch.seen_failed)
    if len(rows) and len(watch.ends):
        total = np.concatenate([[0.0], np.cumsum(watch.mass)])
        first = np.searchsorted(watch.ends, stop[rows], side="right")
        u = rng.random(len(rows))
        goal = total[first] + u * (total[-1] - total[first])
        k = np.minimum(np.searchsorted(total, goal, side="right") - 1, len(watch.ends) - 1)
        longer = total[-1] > total[first]
        stop[rows] = np.where(longer, watch.ends[np.maximum(k, 0)], stop[rows])
    return stop


def _at_checks(
    watch: Watch, truth: MadeTruth, entry: Array, stop: Array, age: Array, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Return last hours known good, end and whether failed, some failures being found at checks.

    Checks fall at even hours with a random first one, and one more as watching ends. Each overlooks
    a fault with the truth's chance; a fault that none has found is not known.
    """
    n = len(age)
    failed = age <= stop
    lower = np.where(failed, age, stop)
    upper = lower.copy()
    checked = rng.random(n) < watch.checked
    gap = rng.choice(watch.gaps, n)
    phase = rng.random(n)
    late = rng.geometric(1.0 - truth.overlooked, n) - 1.0
    rows = failed & checked
    once = rows & np.isinf(gap)
    even = np.where(np.isinf(gap), 1.0, gap)
    passed = np.floor(age / even - phase) + late
    low = even * (passed + phase)
    low = np.where(once, np.where(late > 0, np.inf, entry), low)
    unseen = rows & (low >= stop)
    found = rows & ~unseen
    lower = np.where(found, np.maximum(low, entry), np.where(unseen, stop, lower))
    high = np.where(once, stop, np.minimum(low + even, stop))
    upper = np.where(found, high, np.where(unseen, stop, upper))
    return lower, upper, failed & ~unseen


def _begun(watch: Watch, failed: Array) -> Array:
    """Return (n,) whether each life began: not where the one that it goes on from failed."""
    begun = np.ones(len(failed), dtype=bool)
    for i in watch.later:
        j = watch.before[i]
        begun[i] = begun[j] and not failed[j]
    return begun
