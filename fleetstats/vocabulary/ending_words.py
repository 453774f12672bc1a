"""Words that clubs use for how a life ended, and the endings of ours that they stand for."""

from __future__ import annotations

from fleetstats.records.lives.life import ENDINGS
from fleetstats.vocabulary.fold import fold

ENDING_WORDS = {
    "running": ("in service", "active", "flying", "operating", "in use", "still running"),
    "failed": ("failure", "engine failure", "breakdown", "failed in service"),
    "found-at-check": ("fault found at check", "found at inspection", "fault at check"),
    "removed-finding": (
        "removed because of a finding",
        "removed on finding",
        "removed on condition",
        "removed for a finding",
    ),
    "removed": ("removed for another reason", "withdrawn", "removed other", "retired"),
    "planned-overhaul": (
        "scheduled overhaul",
        "overhaul due",
        "planned overhaul due",
        "removed for planned overhaul",
    ),
    "lost": ("lost to follow up", "no contact", "fate unknown"),
    "modified": ("modification", "retrofitted"),
}
"""Other words for our endings. "Overhauled" alone is not among them: due, or ill?"""

CAUSE_AS_ENDING = (
    "sold",
    "stored",
    "prop strike",
    "accident",
    "upgrade",
    "fuel contamination",
    "no fault found",
    "calendar overhaul",
)
"""Causes that clubs write where the ending belongs; the engine was removed for them."""


def _by_word() -> dict[str, tuple[str, str]]:
    out = {fold(c): ("removed", c) for c in CAUSE_AS_ENDING}
    for ending in ENDINGS:
        words = (ending, *ENDING_WORDS.get(ending, ()))
        out |= {fold(w): (ending, "") for w in words}
    return out


ENDINGS_BY_WORD = _by_word()
"""Each known word as `fold` has it, with the ending of ours and the cause that it implies."""
