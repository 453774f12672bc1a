"""Why the limits of numbers and dates told in words are what they are."""

from __future__ import annotations

from fleetstats.vocabulary.limits import ABOUT_SHARE, OWN, SHORT_YEARS_BACK, Limit

WORDS_LIMITS = {
    "ABOUT_SHARE": Limit(
        ABOUT_SHARE,
        "of the figure, to either side",
        "What 'about' means at the least; half the place of the last digit that is not 0, where "
        "that is more: 800 is then told in hundreds, and means 750 to 850.",
        OWN,
    ),
    "SHORT_YEARS_BACK": Limit(
        SHORT_YEARS_BACK,
        "years before the analysis date",
        "A year of two digits that would lie further back is as likely a date still to come.",
        OWN,
    ),
}
"""Name of a constant of `vocabulary.limits` = what it is."""
