"""The claim tried on made-up fleets, as a chapter of a study that asks for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.stress.compute import DEFAULT_FLEETS, stress_claim
from fleetstats.chapters.stress.values import Stress
from fleetstats.core.crew import crew_at_work
from fleetstats.core.value import Value
from fleetstats.study.study import Study


def chapter_stress(base: Base, _done: Mapping[str, Value]) -> Stress | None:
    """Return what the rule says of made-up fleets; None unless asked for and a claim is made."""
    fleets = base.settings.stress.fleets
    if fleets == 0 or base.settings.study.claimed_interval_h is None:
        return None
    return stress_claim(
        base.spells, base.built.rows, base.fit, base.settings, fleets=fleets, crew=crew_at_work()
    )


def with_stress(study: Study) -> Study:
    """Return a study that asks for the chapter: with its own number of fleets, else the usual."""
    s = study.settings
    if s.stress.fleets:
        return study
    return replace(study, settings=replace(s, stress=replace(s.stress, fleets=DEFAULT_FLEETS)))
