"""How a life ends, in our words, and the words that clubs use for each."""

from __future__ import annotations

from fleetstats.vocabulary.fold import fold

ENDINGS = {
    "running": "still in service at the last reading",
    "failed": "failed at the exit hours",
    "found-at-check": "a fault was found at a check; it arose after the last hours known good",
    "removed-finding": "removed because of a finding, before it failed",
    "removed": "removed for another reason",
    "planned-overhaul": "removed for overhaul because hours or calendar were due",
    "lost": "lost to follow-up at the exit hours",
    "modified": "modified at the exit hours; the engine goes on as another build",
}
"""How a life ended, in our words. The reader maps the words of the records to these."""

FAILING_ENDINGS = ("failed", "found-at-check")
"""Endings that are failures of some kind; the failure rules say of which."""


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
