"""Cautions on lives that cannot be what they say, or are told twice, and carry the answer."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

DOUBTFUL = (
    caution_entry(
        "far-life",
        FIRST,
        "A life far beyond all others carries the answer.",
        cure="Look at the log of what is named; leave it out until its hours are shown.",
        cases=Case(
            "records",
            "The answer rests on {what}, far beyond all others, whose longest is {next_h:,.0f} h, "
            "or used far more than any other. Without: {without}.{alone}",
            (
                "SERIAL_FROM_NEXT",
                "BARE_FROM_NEXT",
                "MARKED_SHARE",
                "FAR_FOLD",
                "LEAST_FOR_FAR",
                "FAR_FROM_NEXT",
                "FAR_FROM_MOST",
                "LEAST_FOR_QUANTILE",
                "FAR_QUANTILE",
                "FAR_MOST_SHARE",
                "ODD_MOVES_BOUND",
            ),
            "{what} {is_are} far beyond all others",
        ),
    ),
    caution_entry(
        "low-failure",
        FIRST,
        "A failure at far fewer hours than its dates tell carries the answer.",
        cure="Look at the log of what is named; a digit may be missing.",
        cases=Case(
            "records",
            "{what} by {most_h:,.0f} h {lies} far below what the dates and any other engine's use "
            "would have. Without: {without}.{alone}",
            (
                "FAR_FOLD",
                "LEAST_FOR_FAR",
                "FAR_FROM_NEXT",
                "FAR_FROM_MOST",
                "LEAST_FOR_QUANTILE",
                "FAR_QUANTILE",
                "FAR_MOST_SHARE",
                "ODD_MOVES_BOUND",
            ),
            "{what} by {most_h:,.0f} h {lies} far below what dates would have",
        ),
    ),
    caution_entry(
        "copied-lives",
        FIRST,
        "Lives told again under other ids carry the answer.",
        cure="Ask for the logs of some pairs; twin engines of one aircraft look like that.",
        cases=Case(
            "records",
            "{n} {has_have} the hours and dates of another engine to the digit; chance would have "
            "{by_chance}. With one of each alone: {without}.",
            ("COPIES_CHANCE", "NEAR_COPIES_CHANCE", "ODD_MOVES_BOUND"),
            "{n} {repeats} the hours and dates of another engine",
        ),
    ),
)
