"""What a stated doubt of the clocks does to the claim, in sentences."""

from __future__ import annotations

from fleetstats.chapters.clock_doubt.values import OTHERS, OWN, ClockDoubt
from fleetstats.core.units import text_percent
from fleetstats.document.blocks import METERS
from fleetstats.vocabulary.wording import at_most


def say_doubt(least: float, greatest: float) -> str:
    """Say one doubt, or the span of several: "2 % to 8 %"."""
    low, high = text_percent(least), text_percent(greatest)
    return high if low == high else f"{low} to {high}"


def say_whose(whose: str) -> str:
    """Say whose clocks a doubt is of: "tach hours", or of which engines."""
    by_itself = {OWN: "stated for the engine itself", OTHERS: "all others, as the study says"}
    return by_itself.get(whose) or METERS.get(whose, whose)


def say_law(least: float, greatest: float, together: float) -> str:
    """Say the doubt that is stated: "by 5 % (log standard deviation), all the same way"."""
    how = (
        "all the same way"
        if together >= 1.0
        else "each for itself"
        if together <= 0.0
        else f"of whose variance {text_percent(together)} is common to all"
    )
    return f"by {say_doubt(least, greatest)} (log standard deviation), {how}"


def say_clocks(told: ClockDoubt) -> str:
    """Say the bound at the claimed hours with the clocks in doubt, and without."""
    law = say_law(told.doubt_least, told.doubt, told.together)
    with_it = at_most(told.failure_high, told.accepted)
    without = at_most(told.sure_failure_high, told.accepted)
    if with_it == without:
        return f"Quoted bounds allow for clocks that may be wrong {law}: that moves none here."
    return (
        f"Quoted bounds allow for clocks that may be wrong {law}: at most {with_it} fail by "
        f"{told.hours:,.0f} h; were every clock right, at most {without}."
    )
