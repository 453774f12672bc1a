"""The coded cautions of a study."""

from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.cautions.qualified import qualify

__all__ = ["collect_cautions", "qualify"]
