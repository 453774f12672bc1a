"""Departures from the defaults, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.departures.compute import list_departures
from fleetstats.chapters.departures.values import DepartureList
from fleetstats.core.value import Value
from fleetstats.spells.bulk.bulk import Bulk

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Base


def chapter_departures(base: Base, _done: Mapping[str, Value]) -> DepartureList:
    """Return what the study changed against the defaults, with the counts of its records."""
    bulk = base.chapters.get("bulk")
    return list_departures(
        base.study, base.records, base.audit, base.built, bulk if isinstance(bulk, Bulk) else None
    )
