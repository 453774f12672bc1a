"""What is said of sources beside each other."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.chapters.between_sources.values import SourceClaim
from fleetstats.survival.groups.pooling import VERDICTS
from fleetstats.vocabulary.wording import at_most, hours_exact


def say_these(claim: SourceClaim) -> str:
    """Say the claim for the engines in the records."""
    word = say_word(claim.these_state, extrapolated=claim.extrapolated)
    return f"{word}, at most {at_most(claim.these_failure_high, 1.0 - claim.target)} fail by then"


def say_new(claim: SourceClaim) -> str:
    """Say the claim for an engine from a source like those in the records."""
    word = say_word(claim.new_state, extrapolated=claim.extrapolated)
    if claim.new_failure_high is None:
        return f"{word}; how far sources spread cannot be told from these failures"
    return f"{word}, at most {at_most(claim.new_failure_high, 1.0 - claim.target)} fail by then"


def say_sources(verdict: str, claim: SourceClaim | None) -> str:
    """Say whether the sources are alike, and what the claim is for one that is not among them."""
    if verdict == "inside":
        return f"The sources are {VERDICTS[verdict]}."
    lead = {
        "outside": "The sources differ by more than the margin: read each alone.",
        "cannot-tell": "The sources are not shown to be alike.",
    }[verdict]
    if claim is None:
        return lead
    return (
        f"{lead} At {hours_exact(claim.hours)}, for an engine from a source like these: "
        f"{say_new(claim)}; for these engines: {say_these(claim)}."
    )
