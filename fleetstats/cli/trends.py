"""`fleetstats trends`: what the checks show over time."""

from __future__ import annotations

from fleetstats.cli.chapter import chapter_command

MISSING = 'The study has no file of shape "leakdown", and no grades or oil use among its checks.'

command = chapter_command(
    "trends",
    ("condition", "trends"),
    MISSING,
    says="Say what leak-down, metal on the plug and oil use show in FOLDER, worst first.",
)
