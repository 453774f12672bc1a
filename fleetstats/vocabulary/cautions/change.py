"""Cautions on a failure rate that changed over the calendar, and on a forecast that failed."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

CHANGE = (
    caution_entry(
        "rate-changed",
        FIRST,
        "Failures at equal ages come more often since a date.",
        cure="Find what began then (parts, fuel, shop, use, reporting); until it is found, use the "
        "answer since that date.",
        cases={
            "": Case(
                "change",
                "Failures{who} come {factor} as often at equal ages since {month} ({between}): "
                "{after} where {due} were due. {then}",
                ("HONEST_P", "LEAST_TO_CHANGE"),
                proviso="failures{who} come more often since {month}",
            ),
            "new": Case(
                "change",
                "Failures{who} began in {month} ({between}): {after} since, none in {hours} "
                "before. {then}",
                ("HONEST_P", "LEAST_TO_CHANGE"),
                proviso="failures{who} began in {month}",
            ),
        },
    ),
    caution_entry(
        "rate-fell",
        SECOND,
        "Failures at equal ages come less often since a date.",
        cure="Find what was bettered then, or which failures are no longer told.",
        cases=Case(
            "change",
            "Failures{who} come {factor} as often at equal ages since {month} ({between}): {after} "
            "where {due} were due. Better engines and missing reports look alike.",
            ("HONEST_P", "LEAST_TO_CHANGE"),
        ),
    ),
    caution_entry(
        "forecast-failed",
        FIRST,
        "More failures came in the last year than its forecast held.",
        cure="Look for what changed: builds, use, reporting or definition.",
        cases=Case(
            "back-test",
            "Since {day} {came} came; the forecast of that day would have said {low} to {high}. "
            "What all years say may no longer hold.",
            proviso="the last year brought more failures than its forecast held",
        ),
    ),
    caution_entry(
        "watch-alarm",
        FIRST,
        "Failures since the last study come faster than chance allows.",
        cure="Look at the engines named first; then run a study on these records.",
        cases=Case(
            "watch",
            "Failures{who} since {day} come faster than chance allows in the watch: {after}, "
            "{due} due. The study before it no longer holds for them.",
        ),
    ),
)
