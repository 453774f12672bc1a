"""Earlier looks, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.looks_made.compute import find_looks
from fleetstats.chapters.looks_made.present import begin_look
from fleetstats.chapters.looks_made.values import LooksMade
from fleetstats.core.value import Value
from fleetstats.study.history import read_history

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Base


def chapter_looks(base: Base, _done: Mapping[str, Value]) -> LooksMade | None:
    """Return the looks that the study's folder tells of; None where it tells of none before this.

    A first look and the same look again are told alike: no trace of the ledger stands in either.
    """
    ledger = read_history(base.study.folder)
    if not ledger.there:
        return None
    now = begin_look(base.study, base.records.sources, "", base.spells)
    made = find_looks(ledger, now, base)
    return made if made.earlier or made.flaws or made.odd else None
