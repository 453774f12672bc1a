"""Trends, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.checks import condition_of
from fleetstats.chapters.trends.compute import read_trends
from fleetstats.chapters.trends.values import Trends
from fleetstats.core.value import Value
from fleetstats.spells.running import running_among
from fleetstats.vocabulary.ids import normalise_id


def chapter_trends(base: Base, done: Mapping[str, Value]) -> Trends | None:
    """Return the trends of leak-down, metal on the plug and oil use."""
    condition = condition_of(done)
    if not condition.leakdown and not condition.checks:
        return None  # whose engines run need not be known
    among = running_among(base.built.rows, base.spells, base.settings)
    running = {normalise_id(e.engine) for e in among}
    return read_trends(condition.leakdown, condition.checks, base.settings, running)
