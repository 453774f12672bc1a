"""Whether removals look like hidden failures."""

from fleetstats.chapters.removals.values import RemovalKind, Removals
from fleetstats.chapters.removals.words import aged_kinds, kind_words

__all__ = ["RemovalKind", "Removals", "aged_kinds", "kind_words"]
