"""Events that recur, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.recurrence.ahead import hours_ahead
from fleetstats.chapters.recurrence.compute import advise_recurrence
from fleetstats.chapters.recurrence.values import Recurrence
from fleetstats.core.value import Value
from fleetstats.spells.recurrent import build_histories


def chapter_recurrence(base: Base, _done: Mapping[str, Value]) -> Recurrence | None:
    """Return events that recur, from the study's logs; None without a log."""
    if not base.study.of_shape("log"):
        return None
    histories = build_histories(base.records, base.settings).histories
    ahead = hours_ahead(base.built.rows, base.settings)
    return advise_recurrence(histories, base.settings, hours_ahead=ahead)
