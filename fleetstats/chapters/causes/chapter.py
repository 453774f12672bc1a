"""Causes, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.causes.compute import advise_causes
from fleetstats.chapters.causes.values import Causes
from fleetstats.chapters.chapter import Base
from fleetstats.core.value import Value


def chapter_causes(base: Base, _done: Mapping[str, Value]) -> Causes | None:
    """Return what each cause does, and what an overhaul can mend of it."""
    return advise_causes(base.spells, base.settings)
