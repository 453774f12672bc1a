"""What checks show over time."""

from fleetstats.chapters.trends.values import Trends

__all__ = ["Trends"]
