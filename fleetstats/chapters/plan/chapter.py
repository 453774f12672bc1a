"""What would show more, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.chapters.plan.compute import Plan, plan_evidence
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_plan(base: Results, _done: Mapping[str, Value]) -> Plan | None:
    """Return what it would take to show more; None when no interval is claimed."""
    if base.settings.study.claimed_interval_h is None:
        return None
    running = np.array([r.ending == "running" for r in base.built.rows], dtype=bool)
    return plan_evidence(base.spells, base.settings, running=running, fit=base.fit)
