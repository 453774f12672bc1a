"""The doubts for which `advice/judge.py` refuses a word, in the order in which they are asked."""

from __future__ import annotations

from fleetstats.advice.doubts.assumed_hours import failure_high_as_read
from fleetstats.advice.doubts.prior_weight import beside_alone
from fleetstats.advice.doubts.values import Doubt
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.interval import Interval
from fleetstats.vocabulary.limits import PRIOR_MOVED
from fleetstats.vocabulary.wording import stated

NEAR = 1e-9
"""Rounding within which an estimate lies on the edge of its band."""


def is_outside(r: Interval) -> bool:
    """Return whether an estimate lies outside its own band."""
    if r.estimate is None:
        return False
    below = r.low is not None and r.estimate < r.low - NEAR
    return below or (r.high is not None and r.estimate > r.high + NEAR)


def find_doubt(lives: Quoter, word: str, hours: float, target: float, r: Interval) -> Doubt | None:
    """Return why a claim must not be called by `word`; None where it may.

    Parameters
    ----------
    lives : Quoter
        The fleet.
    word : str
        What the bounds say: "supported" or "contradicted".
    hours, target : float
        Hours at which they say it, and the reliability accepted there.
    r : Interval
        Reliability there, as quoted.
    """
    accepted = 1.0 - target
    if is_outside(r):
        return Doubt(
            code="estimate-outside",
            because="the estimate lies outside its own band, so what was assumed of the shape and "
            "what the records say contradict each other",
        )
    weight = beside_alone(lives, hours)
    if weight is not None and weight.makes(word, accepted):
        return Doubt(
            code="prior-moved",
            because="what was assumed of the shape, not the records, makes the bound: it moved it "
            f"by more than {stated(PRIOR_MOVED)}",
        )
    if word == "supported":
        high = failure_high_as_read(lives, hours)
        if high is not None and high > accepted:
            return Doubt(
                code="assumed-hours",
                because=f"without the {lives.spells.hours_assumed:,.0f} h that were assumed, not "
                "seen, the records do not show it",
            )
    return None
