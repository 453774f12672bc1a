"""Whether removals look like hidden failures."""

from fleetstats.chapters.removals.values import Removals

__all__ = ["Removals"]
