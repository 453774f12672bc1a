"""What can be wrong with rows that hint at a failure and are not read as one."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import error, warning

TROUBLE = (
    error(
        "failure-or-not",
        "A row that may tell of a failure and does not say whether it does.",
        says={
            "running": "Engine '{engine}' is said to be '{ending}' and has {what}.",
            "removed": (
                "Engine '{engine}' is said to be '{ending}', no failure, and has {what}, neither "
                "confirmed nor denied."
            ),
            "column": "Engine '{engine}' is said to be '{ending}' and has {what}.",
        },
        cure=(
            "Say what it is: correct the ending, or say in 'confirmed' whether there was a fault, "
            "or map the word in the study file. treat.failure-or-not = 'accept' counts the row as "
            "it stands, 'set-aside' leaves it out; either way it stays in the ledger of trouble, "
            "and the claim names a failure that it may tell of."
        ),
        may_accept=True,
    ),
    warning(
        "trouble-unread",
        "Words of trouble where nothing is read: in a note, or in a column that is not used.",
        says={
            "": (
                "'{word}' stands in the column '{name}', which is not used; the row is read as "
                "'{ending}'."
            ),
            "note": "'{word}' stands in the column '{name}'; the row is read as '{ending}'.",
        },
        cure=(
            "If it tells of a failure, give it a row that says so, with its hours. Until then it "
            "stands in the ledger of trouble as not counted."
        ),
    ),
)
