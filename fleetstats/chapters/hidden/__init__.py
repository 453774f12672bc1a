"""What hidden or doubtful facts would change."""

from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.chapters.hidden.values import Hidden

__all__ = ["Hidden", "estimate_hidden"]
