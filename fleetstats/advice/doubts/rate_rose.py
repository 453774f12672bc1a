"""A claim from the hours since the failure rate rose, where the records show that it did.

Hours flown before a way to fail began say how engines were. A life begun now meets the rate since,
so a claim that only all years carry is not shown by the records.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.doubts.values import Doubt
from fleetstats.advice.left_out import held_to_left_out
from fleetstats.advice.looks.at_look import as_looked_at
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import kept
from fleetstats.spells import Spells
from fleetstats.spells.days.since import after_rise
from fleetstats.survival.weibull.fit_weibull import try_fit

RATE_ROSE = Doubt(
    code="rate-rose",
    because="the failure rate at equal ages rose over the calendar, and the hours since then alone "
    "do not show it",
)


def knows_rise(lives: Quoter) -> bool:
    """Return whether the records show a rise over the calendar."""
    return not bool(np.isnan(lives.spells.at_rise_h).all())


def since_rise(lives: Quoter) -> Quoter | None:
    """Return the fleet from what came after the rise; None where nothing did.

    A fleet of which no rise is known is returned itself.
    """
    if not knows_rise(lives):
        return lives
    later: Spells = kept(lives.spells, "since rise", lambda: after_rise(lives.spells))
    if not len(later):
        return None
    fit = kept(later, "fit since rise", lambda: try_fit(later))
    return as_looked_at(lives, Quoter.of(later, fit, lives.settings))


def failure_high_since_rise(lives: Quoter, hours: float) -> float | None:
    """Return the upper bound of failure by `hours` from what came after a rise; None without one.

    1 where the evidence since then ends before those hours, since nothing is shown of them.
    """
    if not knows_rise(lives):
        return None
    later = since_rise(lives)
    if later is None or hours > later.reach_h:
        return 1.0
    return 1.0 - (later.interval(Quantity.reliability(hours)).low or 0.0)


def life_shown_h(lives: Quoter, what: Quantity) -> float:
    """Return the hours to which a life is shown, failures left out counted; 0 where it is not.

    Where the rate rose no more than the hours since then show, nor past where these end.
    """
    shown = held_to_left_out(lives, what).low or 0.0
    if not knows_rise(lives):
        return shown
    later = since_rise(lives)
    if later is None:
        return 0.0
    return min(shown, later.reach_h, held_to_left_out(later, what).low or 0.0)
