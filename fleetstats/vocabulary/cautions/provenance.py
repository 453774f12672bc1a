"""Cautions on what came before the records: the question declared, and names replaced."""

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

ORIGIN = (
    caution_entry(
        "names-replaced",
        FIRST,
        "Names were replaced and figures coarsened before these records were sent.",
        cure="Ask the maker to show the originals to somebody whom both trust; the section on "
        "names replaced says what coarsening did to each answer.",
        cases=Case("records", "{told}. Nobody can ask after an engine by these records alone."),
    ),
)
