"""Whether a source tells too few failures, or too many."""

from fleetstats.chapters.sources.values import Sources
from fleetstats.chapters.sources.words import side_rows

__all__ = ["Sources", "side_rows"]
