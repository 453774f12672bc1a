"""Events of a log in our words, the words that clubs use for each, and causes that were due."""

from __future__ import annotations

from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fold import fold

KINDS: dict[str, str] = {
    "reading": "hours read from the meter",
    "check": "checked, nothing found: known good at these hours",
    "finding": "a fault or a limit found at a check",
    "unscheduled": "unscheduled work on the engine, which stayed in service",
    "failed": "failed",
    "removed": "taken out of service, with the cause why",
    "lost": "not heard of after these hours",
    "teardown": "taken apart and inspected; confirmed says whether a fault was found",
    "part-removed": "a component taken off",
    "part-fitted": "a component put on",
    "overhauled": "overhauled as a whole: the clock since overhaul restarts",
    "top-overhaul": "top overhaul: the clock since overhaul goes on",
    "modified": "changed to another build standard",
    "meter-changed": "meter replaced or reset; new_reading_h is what the new one shows",
    "returned": "returned to service after a removal",
    "installed": "put into service",
    "retired": "sold, scrapped or withdrawn for good",
}
"""Kinds of event in our words, in the order in which they happen when written on one day."""

SYNONYMS: dict[str, str] = {
    "installation": "installed",
    "install": "installed",
    "fitted to aircraft": "installed",
    "entered service": "installed",
    "in service": "installed",
    "new": "installed",
    "meter reading": "reading",
    "hours": "reading",
    "report": "reading",
    "flight": "reading",
    "stored": "reading",
    "inspection": "check",
    "checked": "check",
    "check ok": "check",
    "check clean": "check",
    "found at check": "finding",
    "fault found": "finding",
    "defect": "finding",
    "removal": "removed",
    "remove": "removed",
    "taken off": "removed",
    "overhaul": "overhauled",
    "major overhaul": "overhauled",
    "top overhaul": "top-overhaul",
    "overhauled top": "top-overhaul",
    "return to service": "returned",
    "returned to service": "returned",
    "reinstalled": "returned",
    "refitted": "returned",
    "back in service": "returned",
    "failure": "failed",
    "fail": "failed",
    "retirement": "retired",
    "scrapped": "retired",
    "sold": "retired",
    "withdrawn": "retired",
    "modification": "modified",
    "upgraded": "modified",
    "part fitted": "part-fitted",
    "component fitted": "part-fitted",
    "part installed": "part-fitted",
    "part removed": "part-removed",
    "component removed": "part-removed",
    "tear-down": "teardown",
    "strip inspection": "teardown",
    "stripped": "teardown",
    "meter change": "meter-changed",
    "meter replaced": "meter-changed",
    "new meter": "meter-changed",
    "lost to follow-up": "lost",
    "left": "lost",
    "left the club": "lost",
    "unscheduled work": "unscheduled",
    "unscheduled maintenance": "unscheduled",
}
"""Other words for the same, compared as `fold` has them."""

EVENTS_BY_WORD = {fold(w): k for w, k in SYNONYMS.items()} | {fold(k): k for k in KINDS}
"""Each known word as `fold` has it, with the event of ours."""

PLANNED_CAUSES = (
    "",
    "overhaul",
    "overhaul due",
    "planned overhaul",
    "scheduled overhaul",
    "hours due",
    "time expired",
    "calendar overhaul",
    "due",
)
"""Causes of a removal that mean that the clock or the calendar was due."""


def kind_of(text: str) -> str | None:
    """Return the event kind that a word of the records means, or None."""
    return meaning_of(text, EVENTS_BY_WORD)
