"""What was decided about single cells and rows, and what that did."""

from fleetstats.chapters.mends.compute import caution_mends, list_mends
from fleetstats.chapters.mends.values import MendsApplied

__all__ = ["MendsApplied", "caution_mends", "list_mends"]
