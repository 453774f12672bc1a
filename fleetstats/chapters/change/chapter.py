"""Changes over the calendar, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.change.compute import advise_change
from fleetstats.chapters.change.values import Changed
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.since import answers_since
from fleetstats.core.value import Value


def chapter_change(base: Base, _done: Mapping[str, Value]) -> Changed | None:
    """Return whether the rate at equal ages changed."""
    return advise_change(
        base.built.rows, base.spells, base.settings, lambda day: answers_since(base, day)
    )
