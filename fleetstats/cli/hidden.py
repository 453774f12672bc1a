"""`fleetstats hidden`: what unreported or doubtful facts would change."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = "Nothing can be said of what is hidden."

command = chapter_command(
    "hidden",
    ("hidden",),
    MISSING,
    says="Say what unreported failures, lost engines and misread hours would change in FOLDER.",
)
