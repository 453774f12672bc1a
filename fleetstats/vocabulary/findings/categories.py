"""Findings on columns of words: use, fuel, climate, operator and those that a study names."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import note, warning

CATEGORY = (
    warning(
        "category-unknown",
        "A word of a column of words that neither we nor the study's map know.",
        says={
            "": "'{word}' is no known {name}: {lives} counted as not given.",
            "near": "'{word}' is no known {name}: {lives} counted as not given.",
        },
        cure={
            "": (
                'Add a line under [categories.words.{name}]: "{word}" = one of {known}; a new '
                "level is written the same way."
            ),
            "near": (
                'Add a line under [categories.words.{name}]: "{word}" = "{near}", or another of '
                "{known}; a new level is written the same way."
            ),
        },
    ),
    warning(
        "category-missing",
        "A column of words that no row gives.",
        says="No row gives '{name}'; it is left out.",
        cure=(
            "Name it in categories.columns as its column is headed, or map its header under "
            "[records.columns]."
        ),
    ),
    note(
        "category-blank",
        "Lives for which a column of words tells nothing.",
        says="'{name}' is empty for {lives} of {n:,}.",
        cure="{treated} Ask those who sent the rows.",
    ),
)
"""Kinds found in lives."""

CATEGORY_LOG = (
    note(
        "category-changed-at-end",
        "The event that ends a life tells another use, fuel or operator than before.",
        says="{name} is '{new}' at the end and was '{old}' before.",
        cure=(
            "The change is taken at {since_h:g} h, the last event before; enter it with its own "
            "date and hours if it came later."
        ),
    ),
)
"""Kinds found in logs."""
