"""The looks at the records, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.looks.compute import tell_looks
from fleetstats.chapters.looks.values import PlannedLooks
from fleetstats.core.value import Value


def chapter_look_plan(base: Base, _done: Mapping[str, Value]) -> PlannedLooks | None:
    """Return the looks made and planned; None for one look without a plan, or without a claim."""
    if base.settings.study.claimed_interval_h is None:
        return None
    return tell_looks(base.settings)
