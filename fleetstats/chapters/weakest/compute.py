"""From results to the weakest points of the answer and what was not examined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from fleetstats.chapters.weakest.facts import Facts
from fleetstats.chapters.weakest.gaps import list_gaps
from fleetstats.chapters.weakest.points import RULES
from fleetstats.chapters.weakest.scale import BoundScale
from fleetstats.chapters.weakest.values import Weakest, WeakPoint
from fleetstats.chapters.weakest.words import SCALE, weakest_sentence
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

SHOWN = 3
"""Weak points that stand beside the answer: what a reader takes in at once, no source."""

LEAST = 0.05
"""Share of the distance below which a point tells nothing of the verdict: common practice, no
source."""


def find_weakest(base: Results, done: Mapping[str, Value]) -> Weakest:
    """Return the weakest points, by what moves the verdict most, and what was not examined.

    Parameters
    ----------
    base : Results
        The main results.
    done : mapping
        The chapters worked out before, by key.
    """
    points = rank_points(base, done)
    return Weakest(
        points=points[:SHOWN],
        others=points[SHOWN:],
        not_examined=list_gaps(replace(base, chapters=done)),
        scale=SCALE,
        sentence=weakest_sentence(
            len(points[:SHOWN]),
            sum(p.decides for p in points[:SHOWN]),
            claimed=base.advice.verdict is not None,
        ),
    )


def rank_points(base: Results, done: Mapping[str, Value]) -> tuple[WeakPoint, ...]:
    """Return every weak point: those that decide first, those by size last; then by their move.

    What moves the bound by less than `LEAST` is none.
    """
    verdict = base.advice.verdict
    if verdict is None:
        return ()
    facts = Facts(
        verdict=verdict,
        horizon=base.advice.horizon,
        settings=base.settings,
        chapters=done,
        n_failed=base.spells.n_failed,
        scale=BoundScale.of(verdict),
    )
    found = [p for rule in RULES if (p := rule(facts)) is not None]
    telling = [p for p in found if p.decides or not 0.0 <= p.moved < LEAST]
    return tuple(sorted(telling, key=lambda p: (not p.decides, p.by_size, -p.moved)))
