"""`fleetstats causes`: what fails, and what an overhaul mends of it."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = "No failure in the records has a cause."

command = chapter_command(
    "causes",
    ("causes",),
    MISSING,
    says="Say what fails in FOLDER by cause, and what is left where one cause is designed out.",
)
