"""What a stated doubt of the clocks does to the claim, in sentences."""

from __future__ import annotations

from fleetstats.chapters.clock_doubt.values import ClockDoubt
from fleetstats.core.units import text_percent
from fleetstats.vocabulary.wording import at_most


def say_law(doubt: float, together: float) -> str:
    """Say the doubt that is stated: "by 5 % (log standard deviation), all the same way"."""
    how = (
        "all the same way"
        if together >= 1.0
        else "each for itself"
        if together <= 0.0
        else f"of whose variance {text_percent(together)} is common to all"
    )
    return f"by {text_percent(doubt)} (log standard deviation), {how}"


def say_clocks(told: ClockDoubt) -> str:
    """Say the bound at the claimed hours with the clocks in doubt, and without."""
    law = say_law(told.doubt, told.together)
    with_it = at_most(told.failure_high, told.accepted)
    without = at_most(told.sure_failure_high, told.accepted)
    if with_it == without:
        return f"Quoted bounds allow for clocks that may be wrong {law}: that moves none here."
    return (
        f"Quoted bounds allow for clocks that may be wrong {law}: at most {with_it} fail by "
        f"{told.hours:,.0f} h; were every clock right, at most {without}."
    )
