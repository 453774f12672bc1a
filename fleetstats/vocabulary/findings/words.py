"""Hours and dates that a file tells in words, each read into an interval."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import note, warning

_FIGURE = (
    "Give the figures where the log book has them. A failure is counted between the two ends, any "
    "other end at the lower one, and an engine enters at the upper one, so that no hours are "
    "counted that may not have been run."
)
_DAY = (
    "Give the day where it is known. Where one day is needed, as for the order of events or the "
    "year of exposure, it is the middle one."
)

WORDS = (
    warning(
        "hours-in-words",
        "Hours told in words: read as an interval.",
        says={
            "about": (
                "Words for “about” in {cells}, as '{shown}': read as an interval, to either side "
                "half the place of the last digit that is not 0, or {percent:g} % where that is "
                "more."
            ),
            "range": "A range in {cells}, as '{shown}': read as an interval.",
            "thousands": (
                "Thousands in {cells}, as '{shown}': read as an interval, to either side half the "
                "place of the last digit."
            ),
            "at-least": (
                "Words for “at least” in {cells}, as '{shown}': read as a lower limit. A failure "
                "told so counts at its limit, the earliest that it can be; it may have come later."
            ),
            "at-most": (
                "Words for “at most” in {cells}, as '{shown}': read as an interval from 0, so that "
                "an engine that did not fail says nothing."
            ),
        },
        cure=_FIGURE,
        limit="ABOUT_SHARE",
    ),
    note(
        "dates-in-words",
        "Dates told without a day or with a short year: read as a span of days.",
        says={
            "short-year": (
                "A year of two digits in {cells}, as '{shown}': read as the latest year that "
                "makes no date after the analysis date."
            ),
            "month": "A month for a date in {cells}, as '{shown}': read as any day of it.",
            "quarter": "A quarter for a date in {cells}, as '{shown}': read as any day of it.",
            "year": "A year for a date in {cells}, as '{shown}': read as any day of it.",
            "about": (
                "Words for “about” a date in {cells}, as '{shown}': read as one such span more to "
                "either side, or {days} days about a day."
            ),
        },
        cure=_DAY,
        limit="SHORT_YEARS_BACK",
    ),
)
