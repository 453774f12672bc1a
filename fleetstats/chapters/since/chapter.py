"""Answers since a few dates, as a chapter of a study; its lines stand under Sensitivity."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.since.compute import chapter_since
from fleetstats.chapters.since.values import SinceRuns
from fleetstats.core.value import Value


def chapter_since_dates(base: Base, _done: Mapping[str, Value]) -> SinceRuns | None:
    """Return the answers since one, three and five years before the analysis date."""
    return chapter_since(base)
