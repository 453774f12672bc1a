"""Five answers, the band, stop rule and review."""

from fleetstats.chapters.decision.ends import end_rows
from fleetstats.chapters.decision.figure import advice_figure

__all__ = ["advice_figure", "end_rows"]
