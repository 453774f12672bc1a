"""Sentences that only the brief has; all others are those of the rooms that they come from."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.answer import accepted_words
from fleetstats.core.units import text_hours
from fleetstats.document.blocks import clock_words
from fleetstats.document.population_words import say_level
from fleetstats.vocabulary.capitals import capital

BOX = ("Decision", "Conditions", "Role", "Place and date", "Signature")
"""What the person who is competent fills in."""


def question_sentence(results: Results) -> str:
    """Say what was asked, in one sentence: the claim with its failure, or the hours sought."""
    s, v = results.settings, results.advice.verdict
    level = say_level(s.question.level, unlooked=results.built.unlooked)
    what = f"{s.question.name}, counted as {level}"
    if v is None:
        return f"At which {clock_words(results)} is overhaul advisable, to hold off {what}?"
    return (
        f"May {text_hours(v.claimed_h)} between overhauls ({clock_words(results)}) be claimed, "
        f"with at most {100 * v.accepted_failure:g} % of engines meeting {what}?"
    )


def accepted_sentence(results: Results) -> str:
    """Say which chance is accepted and who chose it; blank where nothing is claimed."""
    v = results.advice.verdict
    return "" if v is None else f"Accepted: {accepted_words(results, v)}."


def who_asks(results: Results) -> str:
    """Say who asks, as a role."""
    return capital(results.settings.study.asked_by or "not said")
