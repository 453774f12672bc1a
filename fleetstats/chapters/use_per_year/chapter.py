"""Use per year and the clocks of causes, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.use_per_year.compute import chapter_use
from fleetstats.chapters.use_per_year.values import UsePerYear
from fleetstats.core.value import Value


def chapter_use_per_year(base: Base, _done: Mapping[str, Value]) -> UsePerYear | None:
    """Return engines flown little beside much, and each cause's clock."""
    return chapter_use(base)
