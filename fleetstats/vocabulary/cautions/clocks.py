"""The caution that doubt of the clocks moves the verdict."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

CLOCKS = (
    caution_entry(
        "clocks-in-doubt",
        FIRST,
        "The stated doubt of the clocks moves the verdict.",
        cure="Compare the engines' clocks with flight hours, and state what is left of the doubt.",
        cases={
            "": Case(
                "verdict",
                "Were every clock right, at most {sure} would fail by the claimed hours and the "
                "claim were {sure_word}; with clocks that may be wrong {law} it is {word}.",
            ),
        },
    ),
)
