"""What may be hidden, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.hidden.compute import Hidden, estimate_hidden
from fleetstats.chapters.unreported import Unreported, beside_tipping
from fleetstats.core.value import Value
from fleetstats.study.settings import Settings


def chapter_hidden(base: Base, done: Mapping[str, Value]) -> Hidden:
    """Return how the advice moves with what the records do not hold."""
    hidden = estimate_hidden(base.spells, base.fit, base.settings, base.built)
    untold = done.get("unreported")
    if not isinstance(untold, Unreported):
        return hidden
    return replace(hidden, untold=beside_tipping(untold))


def states_rate(settings: Settings) -> bool:
    """Return whether a public rate is stated, which is held against the failures told."""
    return settings.base_rate.per_10000_h is not None
