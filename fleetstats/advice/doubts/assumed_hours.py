"""A claim without the hours that were assumed: carried to the analysis date, seen by nobody.

No failure could have been heard of in such hours, so they can only make a fleet look better. A
claim that hangs on them is not shown by the records.
"""

from __future__ import annotations

from fleetstats.advice.looks.at_look import as_looked_at
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import kept
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit


def as_read(lives: Quoter) -> Quoter | None:
    """Return the fleet up to its last readings; None where no hours were assumed.

    A fleet of which nothing is left without them has no hours at all, and is None too.
    """
    spells = lives.spells
    if not spells.assumed_h.any():
        return None
    read = _up_to_reading(spells)
    if not len(read):
        return None
    fit = kept(read, "fit as read", lambda: try_fit(read))
    recorded = None
    if lives.recorded is not None:
        before = _up_to_reading(lives.recorded)
        recorded = Quoter.of(before, try_fit(before), lives.settings)
    return as_looked_at(lives, Quoter.of(read, fit, lives.settings, recorded=recorded))


def _up_to_reading(spells: Spells) -> Spells:
    return kept(spells, "as read", spells.as_read)


def failure_high_as_read(lives: Quoter, hours: float) -> float | None:
    """Return the upper bound of failure by `hours` without assumed hours; None without any.

    1 where the records end before those hours, since then nothing is shown of them.
    """
    if not lives.spells.assumed_h.any():
        return None
    read = as_read(lives)
    if read is None or hours > read.reach_h:
        return 1.0
    return 1.0 - (read.interval(Quantity.reliability(hours)).low or 0.0)
