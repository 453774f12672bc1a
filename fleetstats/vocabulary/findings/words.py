"""Hours and dates that a file tells in words, each read into an interval."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import note, warning

_ENDS = (
    "A failure is counted between the two ends, any other end at the lower one, and an engine "
    "enters at the upper one, so that no hours are counted that may not have been run."
)
_FIGURE = "Give the figures where the log book has them. " + _ENDS
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
                "{n:,} {cells} {are} words for “about”, as '{shown}': read as intervals, by half "
                "the place of the last digit that is not 0, or by 5 % where that is more, to "
                "either side."
            ),
            "range": "{n:,} {cells} {are} ranges, as '{shown}': read as intervals.",
            "thousands": (
                "{n:,} {cells} {are} in thousands, as '{shown}': read as intervals, by half the "
                "place of the last digit to either side."
            ),
            "at-least": (
                "{n:,} {cells} {are} words for “at least”, as '{shown}': read as lower limits. A "
                "failure told so is counted at its limit, the earliest that it can be; it may "
                "have come later."
            ),
            "at-most": (
                "{n:,} {cells} {are} words for “at most”, as '{shown}': read as intervals from 0, "
                "so that such an engine, unless it failed, says nothing."
            ),
        },
        cure=_FIGURE,
        limit="ABOUT_SHARE",
    ),
    note(
        "dates-in-words",
        "Dates told without a day or with a short year: read as intervals of days.",
        says={
            "short-year": (
                "{n:,} {cells} {are} with a year of two digits, as '{shown}': read as the latest "
                "year that is not after the analysis date."
            ),
            "month": "{n:,} {cells} {are} a month, as '{shown}': read as any day of it.",
            "quarter": "{n:,} {cells} {are} a quarter, as '{shown}': read as any day of it.",
            "year": "{n:,} {cells} {are} a year, as '{shown}': read as any day of it.",
            "about": (
                "{n:,} {cells} {are} words for “about”, as '{shown}': read as one such span more "
                "to either side, or 15 days about a day."
            ),
        },
        cure=_DAY,
        limit="SHORT_YEARS_BACK",
    ),
)
