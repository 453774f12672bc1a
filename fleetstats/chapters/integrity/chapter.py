"""Signs in the records that ask for a second look, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.integrity.compute import look_again
from fleetstats.chapters.integrity.values import Integrity
from fleetstats.core.value import Value


def chapter_integrity(base: Base, _done: Mapping[str, Value]) -> Integrity | None:
    """Return the signs that ask for a second look."""
    return look_again(base.records, base.built, base.fit, base.settings)
