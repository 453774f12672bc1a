"""Cautions on failures that the records hint at and that no figure counts."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

TROUBLE = (
    caution_entry(
        "failures-left-out",
        FIRST,
        "The records tell of failures that no figure counts.",
        cure="Find their hours or say what they are: the ledger of trouble names file and row of "
        "each. Until then, read the bound that counts them at the least favourable age.",
        cases={
            "": Case(
                "advice",
                "{n} further {what} {reason} and {are} not in this figure: the answer counts "
                "{them} neither as failed nor as running.",
                proviso="{n} further {what} {reason} and {are} not in this figure",
            ),
            "several": Case(
                "advice",
                "{n} further {what} are not in this figure: {parts}.",
                proviso="{n} further {what} are not in this figure",
            ),
        },
    ),
)
