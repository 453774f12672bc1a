"""Cautions on when things happened: answers that count a part of the calendar only."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, SECOND, Case, caution_entry

CALENDAR = (
    caution_entry(
        "since-date",
        FIRST,
        "Only what happened after a stated date counts.",
        cure="Look at the answer of all dates as well, and say why the earlier ones do not hold.",
        cases=Case(
            "study",
            "Only what happened after {day} counts: {n} that ended by then ({failed}) and {hours} "
            "run by then are in no figure.",
            proviso="only what happened after {day} counts",
        ),
    ),
    caution_entry(
        "since-undated",
        FIRST,
        "Lives that no date places, where only what happened after a date counts.",
        cure="Ask for the dates of entry and of the last reading or the end of these lives.",
        cases={
            "lives": Case(
                "study",
                "No date says whether {n} without the failure ran after {day}: they are in no "
                "figure.",
                proviso="{n} without dates {are} left out",
            ),
            "failures": Case(
                "study",
                "No date says whether {n} came after {day}: counted as if so, without the hours "
                "that these engines ran.",
                proviso="{n} without a date {are} counted as after {day}",
            ),
        },
    ),
    caution_entry(
        "since-open-days",
        SECOND,
        "Lives with one date missing, where only what happened after a date counts.",
        cure="Ask for the dates of entry, or of the last reading, of these lives.",
        cases=Case(
            "study",
            "Of {n} counted after {day} a date is missing; the hours that other engines fly in a "
            "year stand in for it.",
        ),
    ),
    caution_entry(
        "goes-by-years",
        FIRST,
        "A cause that goes by years, or by hours and years, rather than by hours alone.",
        cure="Limit it by calendar time as well; hours of overhaul alone do not.",
        cases={
            "years": Case(
                "use-per-year",
                "Failures from {cause} go by years rather than by hours: an engine flown little "
                "meets them at fewer hours than these answers say.",
                proviso="failures from {cause} go by years, not hours",
            ),
            "both": Case(
                "use-per-year",
                "Failures from {cause} go by hours and years together: an engine flown little "
                "meets them at fewer hours than these answers say.",
                proviso="failures from {cause} go by years as well as hours",
            ),
        },
    ),
)
