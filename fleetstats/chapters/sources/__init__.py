"""Do the sources differ, and what may be said of an engine from another source like these?"""

from fleetstats.chapters.sources.chapter import chapter_sources
from fleetstats.chapters.sources.compute import advise_sources, compare_groups_of
from fleetstats.chapters.sources.values import SourceClaim, Sources
from fleetstats.chapters.sources.words import say_new, say_these

__all__ = [
    "SourceClaim",
    "Sources",
    "advise_sources",
    "chapter_sources",
    "compare_groups_of",
    "say_new",
    "say_these",
]
