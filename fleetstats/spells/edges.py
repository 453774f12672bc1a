"""The hours between which a life ended, by what its ending counts as."""

from __future__ import annotations

import math

from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling


def edges_of(life: LifeRow, ruling: Ruling) -> tuple[float, float]:
    """Return the lowest and the highest hours of the end of a life.

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
            return max(good, life.entry_h), life.exit_h
        low = life.exit_h if life.exit_low_h is None else life.exit_low_h
        return max(low, life.entry_h), life.exit_h
    if life.exit_low_h is None:
        return life.exit_h, life.exit_h
    # a failure by its word that is none by the rules may have run no hour; a spell has some length
    at = min(max(life.exit_low_h, math.nextafter(life.entry_h, math.inf)), life.exit_h)
    return at, at
