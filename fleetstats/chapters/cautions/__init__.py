"""The coded cautions of a study."""

from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.cautions.qualified import qualify
from fleetstats.chapters.cautions.quick import caution_quick
from fleetstats.chapters.cautions.single_lives import caution_single_lives

__all__ = ["caution_quick", "caution_single_lives", "collect_cautions", "qualify"]
