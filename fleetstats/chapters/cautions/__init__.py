"""The coded cautions of a study."""

from fleetstats.chapters.cautions.compute import collect_cautions

__all__ = ["collect_cautions"]
