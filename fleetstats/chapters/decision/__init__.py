"""Five answers, the band, stop rule and review."""

from fleetstats.chapters.decision.figure import advice_figure
from fleetstats.chapters.decision.rule_chance import StopChance, stop_chance
from fleetstats.chapters.decision.stop_rules import add_months, end_rows, stop_against

__all__ = [
    "StopChance",
    "add_months",
    "advice_figure",
    "end_rows",
    "stop_against",
    "stop_chance",
]
