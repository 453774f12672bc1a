"""Why a row is set aside where nothing is odd in the row itself."""

from __future__ import annotations

REASONS: dict[str, str] = {
    "merged": "The same life as in another report, into which it was merged.",
    "component-not-concerned": "Hours that no life of the part in question spans.",
}
"""Reasons for which a row is set aside without anything being odd in it = what they mean."""

ASIDE: dict[str, str] = {
    "merged": "the same life as {other}",
    "merge-decided": "the study decided for {other}",
    "merge-conflict": "two returns disagree on this engine",
    "component-not-concerned": "no {component} life spans these hours",
    "log-no-exposure": "no hours seen",
    "log-engine": "engine '{engine}': {message}",
    "family-missing": "The column '{header}' is empty.",
    "columns": "The file's columns could not be told.",
}
"""What is said of one row that is set aside for a reason that lies outside it."""


def say_aside(reason: str, /, **fields: object) -> str:
    """Return what is said of a row set aside: one of `ASIDE`, with its fields filled in."""
    return ASIDE[reason].format(**fields)
