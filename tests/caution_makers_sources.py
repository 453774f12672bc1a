"""Makers of cautions on sources that differ; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import NS, maker

from fleetstats.chapters.between_sources import compute
from fleetstats.vocabulary.caution import Caution


def _sources(verdict: str, **claim: object) -> Iterable[Caution]:
    told = NS(
        between=None,
        verdict=verdict,
        ratios=(NS(name="A", verdict=verdict),),
        claim=NS(hours=1200.0, target=0.9, **claim) if claim else None,
    )
    return compute._cautions(told)  # type: ignore[arg-type]


@maker("mixed-sources")
def _(over: bool) -> Iterable[Caution]:
    return _sources("outside" if over else "cannot-tell")


@maker("mixed-sources/new")
def _(over: bool) -> Iterable[Caution]:
    return _sources(
        "cannot-tell",
        these_state="supported",
        new_state="not-yet-shown" if over else "supported",
        new_failure_high=0.101 if over else 0.1,
    )
