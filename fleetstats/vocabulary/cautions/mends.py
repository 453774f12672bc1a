"""Cautions on decisions about cells and rows that touch what tells of a failure."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

MENDS = (
    caution_entry(
        "failure-mended-away",
        FIRST,
        "Rows that tell of a failure as supplied do not as they are read, by decision.",
        cure="Read the reason of each in the table of mends, and ask for the paper that it rests "
        "on; take the mend back (fleetstats check --untake) where there is none.",
        cases=Case(
            "records",
            "{n} that {tells} of a failure as supplied {do} not as read, by decision: {which}.",
            proviso="{n} that {tells} of a failure {do} not count, by decision",
        ),
    ),
    caution_entry(
        "failure-mended",
        SECOND,
        "Decisions change whether, when or of what rows tell of a failure.",
        cure="Read the reason of each in the table of mends.",
        cases=Case("records", "By decision {effects}: {which}."),
    ),
)
