"""`fleetstats events`: how often events come again, and what is to come."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = "The study has no log, or its logs tell of no event."

command = chapter_command(
    "hidden",
    ("recurrence",),
    MISSING,
    says="Say what unreported failures, lost engines and misread hours would change in FOLDER.",
)
