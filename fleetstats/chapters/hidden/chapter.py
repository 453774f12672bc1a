"""What may be hidden, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.hidden.compute import Hidden, estimate_hidden
from fleetstats.core.value import Value


def chapter_hidden(base: Base, _done: Mapping[str, Value]) -> Hidden:
    """Return how the advice moves with what the records do not hold."""
    return estimate_hidden(base.spells, base.fit, base.settings, base.built)
