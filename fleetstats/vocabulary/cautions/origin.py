"""Cautions on records that were changed before they were sent."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

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
