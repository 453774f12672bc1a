"""Five answers, the band, stop rule and review."""

from fleetstats.chapters.decision.figure import advice_figure
from fleetstats.chapters.decision.rule_chance import StopChance, stop_chance
from fleetstats.chapters.decision.stop_rules import (
    NOT_CHOSEN,
    add_months,
    end_rows,
    review_sentence,
    stop_against,
    stop_sentence,
)

__all__ = [
    "NOT_CHOSEN",
    "StopChance",
    "add_months",
    "advice_figure",
    "end_rows",
    "review_sentence",
    "stop_against",
    "stop_chance",
    "stop_sentence",
]
