"""The base-rate check: does a public occurrence rate expect more failures than were reported?

A fleet that looks far better than the public record either counts something narrower or does not
hear of everything. The records cannot say which, so the check asks.
"""

from __future__ import annotations

from fleetstats.advice.equivalents import poisson_allowance
from fleetstats.advice.success_run import poisson_at_most
from fleetstats.core.units import one_in, text_number
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.study.settings import LEVELS, Settings
from fleetstats.vocabulary.wording import at_most, failures_told

SO_FEW = 0.01
"""A chance of so few (or so many) failures below this calls for an explanation."""


@value
class BaseRate(Value):
    """Failures expected at the public rate beside those seen.

    Parameters
    ----------
    state : str
        ``"far-fewer"``, ``"in-keeping"`` or ``"far-more"``.
    per_10000_h : float
        The public rate.
    expected, seen : float
        Failures over this exposure at that rate, and those in the records.
    chance_so_few, chance_so_many : float
        Poisson chance of at most, and of at least, as many as seen, at the public rate.
    share_high : float
        Upper bound, one-sided, of the share of failures reported, if both count the same thing.
    """

    state: str
    sentence: str
    per_10000_h: float
    source: str
    definition: str
    own_definition: str
    exposure_h: float
    expected: float
    seen: float
    chance_so_few: float
    chance_so_many: float
    share_high: float
    confidence: float


def check_base_rate(spells: Spells, settings: Settings) -> BaseRate | None:
    """Return the check against the study's public rate; None where it states none.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    settings : Settings
        ``base_rate.per_10000_h`` with its source and definition.

    References
    ----------
    Poisson counts and their exact bound: Garwood 1936.
    """
    rate = settings.base_rate.per_10000_h
    if rate is None:
        return None
    confidence = 0.5 * (1.0 + settings.study.confidence)
    seen, hours = spells.n_failed, spells.exposure_h
    expected = rate * hours / 10_000.0
    few = float(poisson_at_most(seen, expected))
    many = 1.0 - float(poisson_at_most(seen - 1.0, expected)) if seen > 0 else 1.0
    state = "far-fewer" if few < SO_FEW else "far-more" if many < SO_FEW else "in-keeping"
    share = poisson_allowance(seen, confidence) / expected
    own = LEVELS[settings.question.level]
    base = (
        f"At the public rate of {rate:g} per 10,000 h these {hours:,.0f} h would be expected to "
        f"hold about {text_number(expected, digits=2)} failures; the records hold "
        f"{failures_told(seen, spells.n_left_out).rstrip(',')}"
    )
    chance = "less than 1 in a million" if few < 1e-6 else one_in(few)
    if state == "far-fewer":
        text = (
            f"{base}. The chance of so few at that rate is {chance}. Which is it: does the "
            f"question ({own}) count less than the public source "
            f"({settings.base_rate.definition or 'definition not stated'}), are failures not "
            "reported, or are these engines better?"
        )
        if share < 1.0:
            text += f" If both count the same, at most {at_most(share)} of failures are reported."
    elif state == "far-more":
        text = (
            f"{base}, more than that rate would explain (chance {one_in(many)}): the public count "
            "is a lower limit, or the question counts more."
        )
    else:
        text = f"{base}, which is in keeping with it."
    return BaseRate(
        state=state,
        sentence=text,
        per_10000_h=rate,
        source=settings.base_rate.source,
        definition=settings.base_rate.definition,
        own_definition=own,
        exposure_h=hours,
        expected=expected,
        seen=seen,
        chance_so_few=few,
        chance_so_many=many,
        share_high=share,
        confidence=confidence,
    )
