"""`fleetstats bench`: what the bench says of service."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = 'The study has no file of shape "bench".'

command = chapter_command(
    "bench",
    ("condition", "bench"),
    MISSING,
    says="Carry the bench lives of FOLDER to service, and test them against the field.",
)
