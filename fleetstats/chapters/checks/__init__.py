"""Are the checks frequent enough."""

from fleetstats.chapters.checks.chapter import condition_of
from fleetstats.chapters.checks.values import CheckInterval

__all__ = ["CheckInterval", "condition_of"]
