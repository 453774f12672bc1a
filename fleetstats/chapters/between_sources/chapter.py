"""The sources beside each other, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.between_sources.compute import advise_sources
from fleetstats.chapters.between_sources.values import BetweenSources
from fleetstats.chapters.chapter import Base
from fleetstats.core.value import Value


def chapter_between(base: Base, _done: Mapping[str, Value]) -> BetweenSources | None:
    """Return how the sources compare, and the claim for a source like them."""
    return advise_sources(base.spells, base.settings)
