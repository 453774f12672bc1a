"""`fleetstats pool`: whether sources and builds may be taken together."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = "There is one engine or none in the records."

command = chapter_command(
    "pool",
    ("pooling",),
    MISSING,
    says="Say whether the sources and builds of FOLDER may be pooled, and what carries the answer.",
)
