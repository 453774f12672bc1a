"""Cautions into the claim: what is open about it is said wherever it is called supported."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fleetstats.advice.verdict import qualify_verdict
from fleetstats.chapters.claim import Claim, qualify_claim
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def qualify(results: Results, cautions: Sequence[Caution]) -> Results:
    """Return results with these cautions, their verdict and claim saying what they leave open."""
    advice = replace(results.advice, cautions=tuple(cautions))
    if advice.verdict is not None:
        qualified = qualify_verdict(advice.verdict, advice.horizon, cautions)
        advice = replace(advice, verdict=qualified)
    chapters = dict(results.chapters)
    claim = chapters.get("claim")
    if isinstance(claim, Claim):
        chapters["claim"] = qualify_claim(claim, results.settings, cautions)
    return replace(results, advice=advice, chapters=chapters)
