"""The coded cautions of a study."""

from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.cautions.qualified import qualify
from fleetstats.chapters.cautions.quick import caution_quick

__all__ = ["caution_quick", "collect_cautions", "qualify"]
