"""Cautions on records that are looked at again and again."""

from __future__ import annotations

from fleetstats.vocabulary.cautions.entry import FIRST, Case, caution_entry

PLANNED_LOOKS = (
    caution_entry(
        "looks-unplanned",
        FIRST,
        "The records were looked at several times, each time as if it were the only one.",
        cure="State how many looks are planned ([looks] planned), or ask for edges that hold at "
        "every look ([looks] rule = 'any-number').",
        cases=Case(
            "looks",
            "This is look {n} at these records, and none was planned. Were the claim exactly at "
            "its limit, one of {n} such looks would call it supported, wrongly, with a chance of "
            "about {chance}, not {alpha}. State how many are planned ([looks]), or ask for edges "
            "that hold at every look.",
            ("LOOKS_UNPLANNED",),
            proviso="of {n} looks without a plan one errs in about {chance}",
        ),
    ),
    caution_entry(
        "looks-past-plan",
        FIRST,
        "The records were looked at more often than was planned.",
        cure="Read the verdict of the last planned look; for the years to come make a new plan "
        "before the next look, on records that are new.",
        cases=Case(
            "looks",
            "This is look {n} at these records; {planned} planned. The chance of {alpha} is "
            "used up, so the edges are those that hold at every look, and over all looks a wrong "
            "word has a chance of up to {chance}.",
            proviso="{n} looks were made, {planned} planned",
        ),
    ),
)
