"""What is said of lives after an overhaul."""

from __future__ import annotations

from fleetstats.chapters.later_lives.values import CarriedAge
from fleetstats.core.units import text_hours
from fleetstats.survival.groups.pooling import ScaleRatio
from fleetstats.vocabulary.wording import count, hours_near


def _from_to(low: str, high: str) -> str:
    return f"stays at {low}" if low == high else f"lies between {low} and {high}"


def later_sentence(
    ratio: ScaleRatio,
    n_first: float,
    n_later: float,
    carried: tuple[CarriedAge, ...],
    target: float,
    horizon_h: float,
) -> str:
    """Say how lives after an overhaul compare with first ones."""
    text = (
        f"{count(n_first, 'first life', 'first lives')} and "
        f"{count(n_later, 'life', 'lives')} after overhaul are in these records. {ratio.sentence}"
    )
    if len(carried) > 1:
        lives = [c.life_h for c in carried]
        text += (
            f" If overhaul leaves up to {100 * carried[-1].share:g} % of the hours before it as "
            f"age, the best estimate of the hours that {100 * target:g} % of new engines reach "
            f"{_from_to(hours_near(min(lives)), hours_near(max(lives)))}."
        )
        if max(lives) > horizon_h:
            text += f" Beyond {text_hours(horizon_h)} that is extrapolation."
    return text
