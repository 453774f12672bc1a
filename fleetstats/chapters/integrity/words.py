"""What is said of signs that ask for a second look, and the cautions that they call for."""

from __future__ import annotations

from fleetstats.chapters.integrity.values import SIGNS, Effect, Integrity, RecordSign
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import at_most, count, hours_down, listed

SHORT = {
    "use-impossible": "impossible use",
    "use-alike": "equal rates of use",
    "ends-one-day": "ended on one day",
    "contradictory": "cells that contradict",
}
"""The signs that doubt the rows themselves, as a clause can say them."""

CAUTIONED_AS_FAILED = ("standing-still", "contradictory", "gone")
"""Signs whose running engines may have failed; of old readings the caution on those speaks."""


def integrity_sentence(x: Integrity) -> str:
    """Say which signs were found, and which of them the claim hangs on."""
    found = [s for s in x.signs if s.n_found]
    if not found:
        return f"None of {len(x.signs)} signs that ask for a second look was found."
    names = [f"'{SIGNS[s.key]}' ({s.n_found:,})" for s in found]
    text = f"{len(found)} of {len(x.signs)} signs were found: {listed(names)}. "
    text += "A sign is a reason to look at the papers behind the rows, and no proof of anything. "
    if x.claimed_h is None:
        return text.rstrip()
    if not x.as_recorded.shown:
        return text + "The claim is not supported as it is."
    turn = [s for s in found if turns(x, s.left_out) or turns(x, s.failed)]
    if not turn:
        return text + "The claim stands however their rows are taken."
    which = listed([f"'{SIGNS[s.key]}'" for s in turn])
    return text + f"Taken otherwise, the rows of {which} would leave the claim unsupported."


def turns(x: Integrity, effect: Effect | None) -> bool:
    """Return whether a supported claim would not be supported."""
    return bool(x.as_recorded.shown) and effect is not None and effect.shown is False


def effect_words(x: Integrity, effect: Effect | None) -> str:
    """Say an effect in a cell."""
    if effect is None:
        return ""
    if effect.failure_high is None:
        return f"shown to {hours_down(effect.hours or 0.0)}"
    word = "supported" if effect.shown else "not supported"
    return f"at most {at_most(effect.failure_high, x.accepted_failure)}, {word}"


def what_words(s: RecordSign) -> str:
    """Say what a sign could do that no bound shows; blank where bounds show it."""
    return {
        "last-digits": 'Hours known less well than written; [hours] rounded = "interval" widens '
        "rounded failures.",
        "read-one-day": "None by itself: ask whether the meters were read that day or hours were "
        "reckoned.",
    }.get(s.key, "")


def integrity_cautions(x: Integrity) -> tuple[Caution, ...]:
    """Return a caution for each sign whose rows, taken otherwise, turn a supported claim."""
    out = []
    for s in x.signs:
        if turns(x, s.left_out):
            out.append(_caution(x, "second-look", s, s.left_out, short=SHORT[s.key]))
        if s.key in CAUTIONED_AS_FAILED and turns(x, s.failed):
            out.append(_caution(x, "second-look-failed", s, s.failed))
    return tuple(out)


def _caution(x: Integrity, code: str, s: RecordSign, effect: Effect | None, **more: str) -> Caution:
    assert effect is not None
    assert effect.failure_high is not None
    failure = at_most(effect.failure_high, x.accepted_failure)
    rows = count(s.n_found, s.unit, "lives" if s.unit == "life" else "")
    return caution(
        code,
        value=f"{rows}: at most {failure}", limit=f"{at_most(x.accepted_failure)} accepted",
        sign=SIGNS[s.key], rows=rows, failure=failure, **more,
    )  # fmt: skip
