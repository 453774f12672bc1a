"""The plane of age and calendar, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.calendar_plane.compute import chapter_plane
from fleetstats.chapters.calendar_plane.values import CalendarPlane
from fleetstats.chapters.chapter import Base
from fleetstats.core.value import Value


def chapter_calendar_plane(base: Base, _done: Mapping[str, Value]) -> CalendarPlane | None:
    """Return hours at risk and failures by age band and calendar year."""
    return chapter_plane(base)
