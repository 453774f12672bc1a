"""Cautions on sources that differ, and on engines of a source that is not in the records."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

SOURCES = (
    caution_entry(
        "mixed-sources",
        FIRST,
        "Sources that differ are taken together.",
        cure="Read each source alone; for an engine of another, the claim for a new source.",
        cases={
            "": Case(
                "sources",
                "Sources differ by more than the margin ({who}), so the answer for all may be true "
                "of none. Read each alone.",
                proviso="sources differ by more than the margin",
            ),
            "new": Case(
                "sources",
                "Sources are not shown to be alike. The claim is supported for the engines in the "
                "records; for an engine from another source like these it is not.",
                proviso="an engine of another source is not covered",
            ),
        },
    ),
)
