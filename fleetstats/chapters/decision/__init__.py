"""Five answers, the band, stop rule and review."""

from fleetstats.chapters.decision.figure import advice_figure
from fleetstats.chapters.decision.stop_rules import end_rows

__all__ = ["advice_figure", "end_rows"]
