"""Pooling, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.between_sources import BetweenSources
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.groups.compute import advise_pooling
from fleetstats.chapters.groups.values import Pooled
from fleetstats.core.value import Value


def chapter_pooling(base: Base, done: Mapping[str, Value]) -> Pooled | None:
    """Return whether sources and builds may be taken together, and who carries the answer."""
    sources = done.get("between-sources")
    return advise_pooling(
        base.spells,
        base.settings,
        sources=sources if isinstance(sources, BetweenSources) else None,
        single=bool(base.built.rows),
    )
