"""What a stated assumption and assumed hours do to a bound, in sentences."""

from __future__ import annotations

from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.vocabulary.wording import at_least, at_most


def say_bounds(w: PriorWeight, accepted: float) -> str:
    """Say the bounds as stated, under the defaults and by the records alone, as a clause."""
    uppers = (w.high, w.high_default, w.high_alone)
    said = _three(tuple(f"at most {at_most(p, accepted)}" for p in uppers), w)
    lowers = (w.low, w.low_default, w.low_alone)
    if max(lowers) > accepted:
        least = [f"{at_least(p, accepted)}" for p in lowers]
        said += f" (and at least {least[0]}, {least[1]} and {least[2]})"
    return said


def _three(bounds: tuple[str, ...], w: PriorWeight) -> str:
    return (
        f"{bounds[0]} as stated, {bounds[1]} under the default prior and range of shapes, "
        f"{bounds[2]} by the records alone ({w.alone})"
    )


def say_prior_weight(w: PriorWeight, accepted: float) -> str:
    """Say what was assumed of the shape and what it does to the bound on a claim."""
    return (
        f"Of the shape the study states: {w.stated}. What that does to the chance of failure by "
        f"{w.hours:,.0f} h: {say_bounds(w, accepted)}."
    )


def say_assumed(exposure_h: float, assumed_h: float, high_read: float, accepted: float) -> str:
    """Say how many of the hours were assumed, and the upper bound without them."""
    bound = (
        "nothing is shown" if high_read >= 1.0
        else f"the upper bound is {at_most(high_read, accepted)}"
    )  # fmt: skip
    return (
        f"Of {exposure_h:,.0f} h, {assumed_h:,.0f} h were assumed, not seen; without them {bound}."
    )
