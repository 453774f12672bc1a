"""The sources beside each other, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.sources.compute import advise_sources
from fleetstats.chapters.sources.values import Sources
from fleetstats.core.value import Value


def chapter_sources(base: Base, _done: Mapping[str, Value]) -> Sources | None:
    """Return how the sources compare, and the claim for a source like them."""
    return advise_sources(base.spells, base.settings)
