"""Growth over the calendar, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.growth.compute import Growth, advise_growth
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_growth(base: Results, _done: Mapping[str, Value]) -> Growth | None:
    """Return whether failures grew rarer over the calendar."""
    return advise_growth(base.spells, base.built.rows, base.settings)
