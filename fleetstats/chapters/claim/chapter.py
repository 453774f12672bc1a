"""What may be claimed at the claimed interval, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.claim.compute import Claim, advise_claim
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_claim(base: Results, _done: Mapping[str, Value]) -> Claim | None:
    """Return what may be claimed at the claimed interval; None when none is claimed."""
    if base.settings.study.claimed_interval_h is None:
        return None
    return advise_claim(base.spells, base.settings, fit=base.fit, asserted=base.built.asserted)
