"""Removals, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.removals.compute import advise_removals
from fleetstats.chapters.removals.values import Removals
from fleetstats.core.value import Value


def chapter_removals(base: Base, _done: Mapping[str, Value]) -> Removals | None:
    """Return whether removals look like hidden failures."""
    if len(base.built.rows) != len(base.spells):
        return None
    return advise_removals(base.spells, base.fit, base.settings, base.built.rows)
