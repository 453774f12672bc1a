"""May sources and builds be taken together, and what carries the answer."""

from fleetstats.chapters.groups.influence import InfluenceLine
from fleetstats.chapters.groups.values import Pooled

__all__ = ["InfluenceLine", "Pooled"]
