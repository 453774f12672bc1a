"""`fleetstats outlook`: which engines to look at first."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = "No engine in the records is running."

command = chapter_command(
    "outlook",
    ("condition", "trends", "outlook"),
    MISSING,
    says="Rank the running engines of FOLDER, with reasons; those past the evidence apart.",
)
