"""What a builder may print in a brochure: one short sentence with its footnote, and one not to."""

from __future__ import annotations

from typing import Final

from fleetstats.chapters.claim.values import Claim
from fleetstats.core.value import Value, value
from fleetstats.study.settings import LEVELS, Settings
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.provisos import but
from fleetstats.vocabulary.wording import (
    at_least,
    at_most,
    count,
    hours_down,
    hours_exact,
    lives_of,
    stated,
)

MOST_WORDS: Final = 30
"""Words of the sentence; what does not fit goes to the footnote, which belongs to it."""


@value
class Brochure(Value):
    """A sentence that may be printed, only with its footnote, and one that may not.

    `may` is blank where the records contradict the claim or say nothing of it: then no sentence
    about those hours may be printed, and `footnote` says why.
    """

    may: str
    footnote: str
    may_not: str

    def lines(self) -> tuple[str, ...]:
        """Return it as lines for a prompt."""
        print_ = f"For print: {self.may}" if self.may else "For print: nothing on these hours."
        return (print_, f"  {self.footnote}", f"Not for print: {self.may_not}")


def write_brochure(claim: Claim, settings: Settings) -> Brochure:
    """Return what may be printed of a claim, and what may not.

    Parameters
    ----------
    claim : Claim
        With what is open about it.
    settings : Settings
        The study's question and its date.
    """
    return Brochure(may=_may(claim), footnote=_footnote(claim, settings), may_not=_may_not(claim))


def _may(claim: Claim) -> str:
    seen = f"{lives_of(claim.n_lives, claim.n_engines)} seen over {claim.exposure_h:,.0f} h"
    failed = f"{count(claim.n_failed + claim.n_left_out, 'failure')} reported"
    sure = f"with {100 * claim.confidence:g} % confidence"
    if claim.state == "supported":
        high = max(claim.failure_high, claim.failure_high_with_left_out or 0.0)
        most = at_most(high, 1.0 - claim.target)
        text = f"{seen}, {failed}: {sure}, at most {most} fail by {claim.hours:,.0f} h.*"
    elif claim.state == "contradicted" or claim.shown_to_h <= 0.0:
        return ""
    else:
        least = stated(claim.target)
        to = hours_down(claim.shown_to_h, claim.hours)
        text = f"{seen}, {failed}: {sure}, at least {least} reach {to}.*"
    return capital(text)


def _footnote(claim: Claim, settings: Settings) -> str:
    if claim.state == "contradicted":
        accepted = 1.0 - claim.target
        return (
            f"The records contradict {claim.hours:,.0f} h: at least "
            f"{at_least(claim.failure_low, accepted)} fail by then, and {stated(accepted)} is "
            "accepted."
        )
    if claim.state != "supported" and claim.shown_to_h <= 0.0:
        return "The records show no hours at all at the share that is asked for."
    day = settings.study.analysis_date
    parts = [
        f"{settings.question.name}, counted as {LEVELS[settings.question.level]}",
        "records without a date" if day is None else f"records to {day}",
        f"they end at {hours_exact(claim.supported_h, claim.hours)}",
        "a bound for the fleet as recorded, no promise for one engine",
        *([f"{claim.left_out}, counted where they hurt most"] if claim.n_left_out else ()),
    ]
    if claim.state != "supported":
        parts.append(f"{claim.hours:,.0f} h is not yet shown")
    # failures left out are in the printed bound, so their clause would contradict it
    provisos = [
        p for p in claim.provisos if not (claim.n_left_out and p.startswith(claim.left_out))
    ]
    text = "; ".join(parts) + but(provisos)
    return f"* {capital(text)}."


def _may_not(claim: Claim) -> str:
    n = count(claim.n_lives if claim.n_engines is None else claim.n_engines, "engine")
    failed = claim.n_failed + claim.n_left_out
    if failed == 0:
        said = f"“{n}, no failures: good for {claim.hours:,.0f} h.”"
    else:
        said = f"“Only {count(failed, 'failure')} in {n}: good for {claim.hours:,.0f} h.”"
    return f"{said} It says neither how many ran so long nor how sure one may be."
