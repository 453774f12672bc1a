"""How often the records were looked at, and how error is held over all looks."""

from fleetstats.chapters.looks.chapter import chapter_look_plan
from fleetstats.chapters.looks.compute import caution_looks, tell_looks
from fleetstats.chapters.looks.values import LookLine, PlannedLooks

__all__ = ["LookLine", "PlannedLooks", "caution_looks", "chapter_look_plan", "tell_looks"]
