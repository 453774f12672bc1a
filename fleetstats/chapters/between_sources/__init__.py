"""Do the sources differ, and what may be said of an engine from another source like these?"""

from fleetstats.chapters.between_sources.chapter import chapter_between
from fleetstats.chapters.between_sources.compute import advise_sources, are_apart, compare_groups_of
from fleetstats.chapters.between_sources.values import BetweenSources, SourceClaim
from fleetstats.chapters.between_sources.words import say_new, say_these

__all__ = [
    "BetweenSources",
    "SourceClaim",
    "advise_sources",
    "are_apart",
    "chapter_between",
    "compare_groups_of",
    "say_new",
    "say_these",
]
