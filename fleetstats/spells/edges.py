"""The hours between which a life ended, by what its ending counts as."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.spells import Spells


class EndHours(NamedTuple):
    """Lowest and highest hours of an end, and whether words alone tell a failure's interval."""

    low_h: float
    high_h: float
    in_words: bool = False


def edges_of(life: LifeRow, ruling: Ruling) -> EndHours:
    """Return the hours between which a life ended.

    A failure known only to lie in an interval begins it at the last hours known good, else at
    entry. One given as known at its very exit is exact, or lies between the edges of hours told in
    words. Any other end is at one age: of hours told in words the lowest, so that no exposure is
    counted that may not have been.

    Parameters
    ----------
    life : LifeRow
        A life.
    ruling : Ruling
        What its ending counts as.
    """
    if ruling.counts_as == "failure":
        if ruling.known_to == "interval":
            good = life.entry_h if life.last_good_h is None else life.last_good_h
            return EndHours(max(good, life.entry_h), life.exit_h)
        if life.exit_low_h is None:
            return EndHours(life.exit_h, life.exit_h)
        low = max(life.exit_low_h, life.entry_h)
        return EndHours(low, life.exit_h, low < life.exit_h)
    if life.exit_low_h is None:
        return EndHours(life.exit_h, life.exit_h)
    # a failure by its word that is none by the rules may have run no hour; a spell has some length
    at = min(max(life.exit_low_h, math.nextafter(life.entry_h, math.inf)), life.exit_h)
    return EndHours(at, at)


def edges_of_all(lives: Sequence[LifeRow], rulings: Sequence[Ruling]) -> tuple[Array, Array, Array]:
    """Return `edges_of` of many lives as columns: (n,) low and high hours, and whether in words."""
    high = np.array([x.exit_h for x in lives], dtype=np.float64)
    low, in_words = high.copy(), np.zeros(len(lives))
    # the others end at one age, which is that of their exit
    open_ended = [
        i for i, (x, v) in enumerate(zip(lives, rulings, strict=True))
        if x.exit_low_h is not None or v.known_to == "interval"
    ]  # fmt: skip
    for i in open_ended:
        low[i], high[i], in_words[i] = edges_of(lives[i], rulings[i])
    return low, high, in_words


EARLIEST_SHARE = 0.01
"""Least age of a failure held at its lower end, as a share of the upper: ages have logarithms."""

POINT = 1e-6
"""Hours that such a failure is watched at the least, as a share of its age: next to none."""


def held_at_ends(spells: Spells) -> tuple[Spells, ...]:
    """Return the spells with the failures told in words at the ends of their intervals.

    All at the lower, all at the upper ends; and, as these say most of the shape of the curve, those
    of younger ages at the upper and of older at the lower, and the other way about. Without such
    failures there is none.
    """
    words = spells.in_words > 0.0
    if not words.any():
        return ()
    return kept(spells, "in words at their ends", lambda: _at_ends(spells, words))


def _at_ends(spells: Spells, words: Array) -> tuple[Spells, ...]:
    low, high, none = spells.exit_lower, spells.exit_upper, np.zeros(len(spells))
    # the lower end may be the very entry
    early = np.maximum(low, np.maximum(spells.entry * (1.0 + POINT), EARLIEST_SHARE * high))
    early = np.minimum(early, high)
    middle = 0.5 * (low + high)
    young = middle < np.median(middle[words])
    places = [early, high]
    if young[words].any():
        places += [np.where(young, high, early), np.where(young, early, high)]
    return tuple(
        spells.replace(
            exit_lower=np.where(words, age, low),
            exit_upper=np.where(words, age, high),
            in_words=none,
        )
        for age in places
    )
