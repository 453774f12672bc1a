"""Cautions on what was declared before the records were drawn."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

DECLARED = (
    caution_entry(
        "declared-changed",
        FIRST,
        "What can turn the verdict was changed after the question was declared.",
        cure="Answer the question as it was declared as well, and say who changed what, and why; a "
        "question that was changed after the records were seen may have been chosen for its "
        "answer.",
        cases=Case(
            "question",
            "{n} that can turn the verdict {is_are} not as declared on {date}: {what}.",
            proviso="{n} {is_are} not as declared on {date}",
        ),
    ),
    caution_entry(
        "declared-looks-lost",
        FIRST,
        "The ledger of looks does not hold the looks that stood there when the question was "
        "declared.",
        cure="Put the ledger (history.jsonl) back from a copy; a bundle or an earlier report tells "
        "what it held.",
        cases=Case(
            "looks",
            "When the question was declared, the ledger of looks held {n}; it does not hold them "
            "now as they stood.",
            proviso="looks made before it was declared may be missing",
        ),
    ),
)
