"""Cautions on looks made before this one, and on the ledger that tells of them."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

LOOKS = (
    caution_entry(
        "looks-altered",
        FIRST,
        "The ledger of earlier looks is not as it was written.",
        cure="Put the file back from a copy, or say in the report how many looks were made; a "
        "bundle or an earlier report tells how many there were.",
        cases={
            "": Case(
                "looks",
                "The ledger of earlier looks (history.jsonl) is not as it was written, so looks "
                "may be missing: {flaws}",
                proviso="looks made before it may be missing from their ledger",
            ),
            "saved-anew": Case(
                "looks",
                "Another program saved the ledger of earlier looks (history.jsonl); its looks are "
                "as they were written. {flaws}",
            ),
        },
    ),
    caution_entry(
        "looks-disagree",
        FIRST,
        "The same records gave another verdict under other settings.",
        cure="Say which settings were fixed before the records were looked at, and why the others "
        "were left; a verdict that was chosen among several is none.",
        cases=Case(
            "looks",
            "{looks} at these same records, under other settings, called the claim at {hours} "
            "{words}: the settings make the verdict.",
            proviso="the same records under other settings gave another verdict",
        ),
    ),
)
