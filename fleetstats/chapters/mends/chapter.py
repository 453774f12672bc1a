"""Mends, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.mends.compute import list_mends
from fleetstats.chapters.mends.values import MendsApplied
from fleetstats.core.value import Value


def chapter_mends(base: Base, _done: Mapping[str, Value]) -> MendsApplied | None:
    """Return what was decided about cells and rows; None where nothing was."""
    return list_mends(base.records.mended)
