"""The same target life by several routes, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.analysis import say_beside_advice
from fleetstats.chapters.routes.compute import band_routes
from fleetstats.chapters.routes.section import compose_routes
from fleetstats.chapters.routes.values import Routes
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.document.document import Section

COMPARED_RESAMPLES = 1000
"""Resamples behind an edge that is only set beside others."""


def chapter_routes(base: Results, _done: Mapping[str, Value]) -> Routes:
    """Return the life that the study's target asks for, by every route there is."""
    s = base.settings
    return band_routes(
        base.spells,
        base.fit,
        Quantity.life(round(1.0 - s.targets.reliability, 12)),
        level=s.study.confidence,
        settings=replace(s.evidence, resamples=min(s.evidence.resamples, COMPARED_RESAMPLES)),
        seed=s.study.seed,
        opinions=base.opinions,
    )


def routes_section(results: Results) -> Section | None:
    """Return the other routes, with how the advice differs from their bands."""
    value = results.chapters.get("routes")
    return compose_routes(value, say_beside_advice(results)) if isinstance(value, Routes) else None
