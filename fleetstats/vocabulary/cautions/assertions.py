"""Cautions on what is assumed, set or asserted, and not seen in the records."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

ASSERTIONS = (
    caution_entry(
        "prior-against-data",
        FIRST,
        "What is assumed of the shape, not the records, moves the answer.",
        cure="Take the default prior and range of shapes, or gather records that bear it out.",
        cases={
            "outside": Case(
                "verdict",
                "The estimate lies outside its own band: what was assumed of the shape and what "
                "the records say contradict each other, so the claim is called neither supported "
                "nor contradicted.",
            ),
            "refused": Case(
                "verdict",
                "The claim would be {word} only because of what the study assumes of the shape "
                "({stated}); the records alone do not say so, and the word is refused.",
                ("PRIOR_MOVED",),
            ),
            "carried": Case(
                "verdict",
                "The claim is {word} with what the study assumes of the shape ({stated}), and by "
                "the records alone it is not.",
                proviso="the records alone, without the stated shape, do not show it",
            ),
            "moved": Case(
                "verdict",
                "What the study assumes of the shape ({stated}) moves the bound by more than a "
                "share of the records' own; the word stands without it.",
                ("PRIOR_MOVED",),
                proviso="the figure quoted rests on the stated shape",
            ),
            "hidden": Case(
                "verdict",
                "By the records alone the claim is contradicted; what the study assumes of the "
                "shape ({stated}) hides that.",
            ),
        },
    ),
    caution_entry(
        "odd-setting",
        FIRST,
        "A setting is so unusual that it bends the question.",
        cure="Set it as usual, or say in the report why it is so.",
        cases={
            "confidence": Case(
                "study",
                "The confidence is low: each edge alone fails in up to {in_hundred} of 100 such "
                "fleets.",
                ("LEAST_CONFIDENCE",),
                proviso="each bound holds at {side} confidence only",
            ),
            "factors": Case(
                "hours",
                "Hours of {meters} meters are converted by a factor without a range, as if it were "
                "known exactly.",
                proviso="{meters} hours were converted by a factor without a range",
            ),
            "claim": Case(
                "study",
                "The claim is far below the hours at which engines ended: is it a slip, such as a "
                "point for a thousand?",
                ("LEAST_CLAIM_H", "LEAST_CLAIM_SHARE"),
                proviso="the claim of {hours} is far below what engines ran",
            ),
            "accepted": Case(
                "targets",
                "The study accepts that more than half of the engines fail by the claimed hours.",
                ("MOST_ACCEPTED",),
                proviso="it accepts that {accepted} of engines fail",
            ),
            "at-risk": Case(
                "evidence",
                "The evidence is taken to reach as far as so few are at risk; one engine more or "
                "less moves what is said there.",
                ("LEAST_MIN_AT_RISK",),
                proviso="at its end the evidence rests on {n} at risk",
            ),
            "unknown-cause": Case(
                "question",
                "Failures of unknown cause are counted as those from another cause, and not as the "
                "failure in question.",
            ),
        },
    ),
    caution_entry(
        "as-stated",
        SECOND,
        "Something rests on a typed word, and nothing in the records shows it.",
        cure="Give the list of serials, the hours or dates of entry, the sheets of the checks.",
        cases={
            "built": Case(
                "population",
                "That every engine built is in the records is stated, not shown: there is a "
                "number, and no list of serials.",
                proviso="that all engines built are in the records is stated, not shown",
            ),
            "from-start": Case(
                "lives",
                "Lives count as followed from their start though neither a date nor their source "
                "says so; engines that failed before anybody looked would not be in the records.",
                proviso="that {n} were followed from the start is stated, not shown",
            ),
            "counts": Case(
                "lives",
                "{rows} stand for {n} engines by a number typed beside them; none of those engines "
                "has a serial, so nobody can look one up or see whether it is told twice.",
                proviso="{n} engines are a number in {rows}, without serials",
            ),
            "checks": Case(
                "definitions",
                "A condition beyond limits at a check counts as the failure, and no check is in "
                "the records: that none was found is stated, not shown.",
                proviso="no check is in the records to find a condition beyond limits",
            ),
        },
    ),
)
