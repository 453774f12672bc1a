"""Claim, plan, what is hidden, and cautions, as chapters of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.claim.compute import Claim, advise_claim
from fleetstats.chapters.hidden.compute import Hidden, estimate_hidden
from fleetstats.chapters.plan.compute import Plan, plan_evidence
from fleetstats.core.value import Value
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.chapters.condition_chapters import Base


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CautionList(Value):
    """All cautions of a study."""

    items: tuple[Caution, ...]


def chapter_claim(base: Results, _done: Mapping[str, Value]) -> Claim | None:
    """Return what may be claimed at the claimed interval; None when none is claimed."""
    if base.settings.study.claimed_interval_h is None:
        return None
    return advise_claim(base.spells, base.settings, fit=base.fit)


def chapter_plan(base: Results, _done: Mapping[str, Value]) -> Plan | None:
    """Return what it would take to show more; None when no interval is claimed."""
    if base.settings.study.claimed_interval_h is None:
        return None
    running = np.array([r.ending == "running" for r in base.built.rows], dtype=bool)
    return plan_evidence(base.spells, base.settings, running=running, fit=base.fit)


def chapter_hidden(base: Base, _done: Mapping[str, Value]) -> Hidden:
    """Return how the advice moves with what the records do not hold."""
    return estimate_hidden(base.spells, base.fit, base.settings, base.built)


def chapter_cautions(base: Results, done: Mapping[str, Value]) -> CautionList:
    """Return every caution that applies, those of the chapters before it included."""
    plan = done.get("plan")
    return CautionList(
        items=collect_cautions(
            base.spells,
            base.fit,
            base.settings,
            base.advice,
            built=base.built,
            plan=plan if isinstance(plan, Plan) else None,
            results=(base.description.product_limit, *done.values()),
        )
    )
