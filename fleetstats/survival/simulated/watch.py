"""The design of a fleet in hand: who was watched from which hours to which, and how ends are seen.

Known are the hours at which watching ended for lives that did not fail. For one that failed they
are not, so each made-up fleet draws them from the product limit of the ends of watching, past the
hours at which it failed (its own hours where nobody was watched longer). A failure found at a check
is found again at checks as far apart as those in the records.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

MOST_LIVES = 20_000
"""Lives above which fleets are not made up by the hundred."""

BATCH = 20
"""Lives to a batch, in the order of the records, where they name fewer than two builds."""


@value
class Watch(Value):
    """One design of n lives.

    Parameters
    ----------
    spells : Spells
        One row to a life.
    change_h : (n,) float
        Hours from which a risen hazard counts for each.
    seen_failed : (n,) bool
        Failed in the records, so that the end of watching is not known.
    ends : (k,) float
        Hours at which watching of others ended, rising.
    mass : (k,) float
        Share of lives whose watching ends at each, by its product limit.
    gaps : (g,) float
        Hours between checks, one of each failure found at one; infinite where the last hours
        known good are those at entry. Empty without any.
    checked : float
        Share of failures that are found at a check.
    build, source : (n,) int
        Number of each life's batch and source.
    engine : (n,) int
        Number of each life's engine.
    before : (n,) int
        The life that this one goes on from, on the same clock; -1: none.
    later : (l,) int
        Lives that go on from another, by rising entry.
    """

    spells: Spells
    change_h: Array
    seen_failed: Array
    ends: Array
    mass: Array
    gaps: Array
    checked: float
    build: Array
    source: Array
    engine: Array
    before: Array
    later: Array

    @property
    def stop_known(self) -> Array:
        """Return (n,) ends of the records: those of watching but where a life failed."""
        return np.asarray(self.spells.exit_upper)

    @property
    def n_builds(self) -> int:
        """Return how many batches there are."""
        return int(self.build.max()) + 1

    @property
    def n_sources(self) -> int:
        """Return how many sources there are."""
        return int(self.source.max()) + 1


def watch_of(spells: Spells, change_h: Array) -> Watch:
    """Return the design of spells.

    Parameters
    ----------
    spells : Spells
        Rows of more than one life are taken apart.
    change_h : (n,) float
        Hours from which a risen hazard counts, one to a row.

    Raises
    ------
    SpellError
        If rows stand for shares of lives, or for more lives than can be made up.
    """
    total = float(spells.weight.sum())
    if np.any(spells.weight != np.round(spells.weight)) or not spells.engines_known:
        raise SpellError(
            "Rows stand for shares of lives, not for lives.",
            "Fleets can be made up for tables of single lives, read whole.",
        )
    if total > MOST_LIVES:
        raise SpellError(
            f"{total:,.0f} lives are too many to make up fleets by the hundred.",
            f"Ask it of a part of at most {MOST_LIVES:,} lives.",
        )
    apart = np.repeat(np.arange(len(spells)), spells.weight.astype(np.int64))
    lives = spells.select(apart).replace(weight=np.ones(len(apart)))
    failed, gap = lives.failed, lives.interval_known
    width = (lives.exit_upper - lives.exit_lower)[gap]
    ends, mass = _ends_of_watching(lives)
    before = _goes_on_from(lives)
    return Watch(
        spells=lives,
        change_h=change_h[apart],
        # a life looked at once ended its watching then
        seen_failed=failed & ~(gap & (lives.exit_lower == lives.entry)),
        ends=ends,
        mass=mass,
        gaps=np.where((lives.exit_lower == lives.entry)[gap], np.inf, width),
        checked=float(gap.sum() / max(failed.sum(), 1)),
        build=_numbers(lives.build, batches=True),
        source=_numbers(lives.source, batches=False),
        engine=np.unique(lives.unit, return_inverse=True)[1].ravel(),
        before=before,
        later=np.array(sorted(np.flatnonzero(before >= 0), key=lambda i: lives.entry[i]), np.int64),
    )


def _numbers(labels: Array, *, batches: bool) -> Array:
    names, number = np.unique(labels, return_inverse=True)
    if batches and len(names) < 2:
        return np.arange(len(labels)) // BATCH
    return np.asarray(number).ravel()


def _ends_of_watching(lives: Spells) -> tuple[Array, Array]:
    """Return the ends of watching and the share of each: Kaplan & Meier's, roles exchanged."""
    ended = ~lives.failed
    ends, n = np.unique(lives.exit_upper[ended], return_counts=True)
    # at equal hours failures come first, so those that failed there are no longer watched
    at_risk = lives.at_risk(ends)
    order = np.sort(lives.exit_upper[lives.failed])
    here = np.searchsorted(order, ends, side="right") - np.searchsorted(order, ends, side="left")
    stay = 1.0 - n / np.maximum(at_risk - here, 1.0)
    left = np.concatenate([[1.0], np.cumprod(stay)])
    return ends, left[:-1] - left[1:]


def _goes_on_from(lives: Spells) -> Array:
    """Return which life each goes on from: the same engine's, ending unfailed where it begins."""
    out = np.full(len(lives), -1)
    late = np.flatnonzero(lives.entry > 0.0)
    ended = {
        (str(lives.unit[i]), float(lives.exit_upper[i])): i for i in np.flatnonzero(~lives.failed)
    }
    for i in late:
        j = ended.get((str(lives.unit[i]), float(lives.entry[i])), -1)
        out[i] = -1 if j == i else j
    return out
