"""Cautions on failures that nobody told, and on signs that ask for a second look."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

_ASK = "Ask each source for the failures that only the other told, and the shops for any more."

UNREPORTED = (
    caution_entry(
        "unreported-failures",
        FIRST,
        "By the overlap of what sources told, as many failures may be told by nobody as would turn "
        "the claim.",
        cure=_ASK,
        cases={
            "": Case(
                "unreported",
                "By the overlap of what sources tell, {about} failures were told by nobody "
                "({limits}); {least} would turn the claim. " + _ASK,
                proviso="{about} failures may be told by nobody, and {least} would turn it",
            ),
            "limit": Case(
                "unreported",
                "By the overlap of what sources tell, {most} may be told by nobody (estimate: "
                "{about}; {limits}); {least} would turn the claim. " + _ASK,
                proviso="{most} may be told by nobody, and {least} would turn it",
            ),
        },
    ),
    caution_entry(
        "second-look",
        FIRST,
        "Without the rows that a sign asks to look at again, the claim would not be supported.",
        cure="Look at those rows in the shop's and owners' papers before the answer is used.",
        cases=Case(
            "integrity",
            "{sign}: {rows}. Without them at most {failure} would be shown by the claimed hours, "
            "and the claim would not be supported.",
            proviso="{rows} ask for a second look and carry it ({short})",
        ),
    ),
    caution_entry(
        "second-look-failed",
        SECOND,
        "Counted as failed at their last hours, rows that a sign asks to look at again would turn "
        "the claim.",
        cure="Ask what became of each of those engines.",
        cases=Case(
            "integrity",
            "{sign}: {rows}. Were they failures at their last hours, at most {failure} would be "
            "shown by the claimed hours, and the claim would not be supported.",
        ),
    ),
)
