"""The weakest points, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.weakest.compute import find_weakest
from fleetstats.chapters.weakest.values import Weakest
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_weakest(results: Results, done: Mapping[str, Value]) -> Weakest:
    """Return the weakest points of the answer, from all chapters before."""
    return find_weakest(results, done)
