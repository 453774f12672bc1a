"""How many failures nobody reported, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.unreported.compute import estimate_unreported
from fleetstats.chapters.unreported.values import Unreported
from fleetstats.core.value import Value


def chapter_unreported(base: Base, _done: Mapping[str, Value]) -> Unreported | None:
    """Return how many failures nobody reported; None without returns that overlap."""
    return estimate_unreported(base.records, base.built, base.fit, base.settings)
