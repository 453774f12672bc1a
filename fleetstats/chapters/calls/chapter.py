"""Whom to ask for a fresh reading, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.calls.compute import calls_of
from fleetstats.chapters.calls.values import CallList
from fleetstats.chapters.calls.whom import find_asked
from fleetstats.chapters.chapter import Base
from fleetstats.core.value import Value

IN_REPORT = 10
"""Calls that a report works out together; the verb works out more."""

LEAST_UNREAD = 0.01
"""Hours not read, as a share of those at risk, from which calls are worth a section."""


def chapter_calls(base: Base, _done: Mapping[str, Value]) -> CallList | None:
    """Return whom to ask; None without a claim, or where next to nothing is left to read."""
    study = base.settings.study
    if study.claimed_interval_h is None or study.analysis_date is None or not len(base.built.rows):
        return None
    whom = find_asked(base)
    unread_h = sum(x.unread_h for x in whom.asked)
    if unread_h < LEAST_UNREAD * base.spells.exposure_h:
        return None
    calls = calls_of(base, whom, most=IN_REPORT)
    return calls if calls.together is not None else None
