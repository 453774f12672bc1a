"""Rows that are no engine, and lives that cannot be what they say or are told twice."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import FAILURE_ASIDE, error, warning

_LOOK = (
    "Look at the log: a digit too many, or hours of an airframe? One such life can carry "
    "a bound. treat.hours-far = 'set-aside' leaves it out."
)
_MARK = (
    "Look at the log: was the decimal mark lost? One such life can carry a bound. "
    "treat.hours-far = 'set-aside' leaves it out."
)

DOUBTFUL = (
    error(
        "totals-row-failed",
        "A row that reads as a total or a signature, and tells of a failure.",
        says="'{shown}' reads as a total or a signature, not as a serial, and its ending is a "
        "failure.",
        cure=(
            "Enter the serial of the engine that failed. If the row is no engine, set this kind "
            "aside: treat.totals-row-failed = 'set-aside'."
        ),
        may_accept=True,
    ),
    error(
        "sum-of-rows",
        "A life whose hours are the sum of the rows above it.",
        says=(
            "The {hours:,g} h are the sum of the {n:,} rows above, and over twice the {most:,g} h "
            "of the longest other row."
        ),
        cure=(
            "A total is no engine: take the row out, or set this kind aside: "
            "treat.sum-of-rows = 'set-aside'. If it is an engine, say so: 'accept'."
        ),
        may_accept=True,
        limit="FEWEST_SUMMED_BY_ID, SUM_STANDS_OUT, SUM_TOLERANCE_H",
    ),
    warning(
        "totals-row",
        "A row of totals, a signature or the end of a list: no engine.",
        says={
            "": "'{shown}' reads as a total or a signature, not as a serial; it is no engine.",
            "elsewhere": "The row reads as a total or a signature; it is no engine.",
            "sum": (
                "The row names no engine and its {hours:,g} h are the sum of {n:,} rows above; "
                "it is no engine."
            ),
        },
        cure="If it is an engine, enter its serial.",
        usual="set-aside",
        may_accept=False,
        limit="FEWEST_SUMMED, SUM_TOLERANCE_H",
    ),
    warning(
        "hours-far",
        "A life, or a rate of use, far beyond all others.",
        says={
            "": (
                "{hours:,g} h is far beyond every other life: {times:,.3g} times the longest of "
                "the rest, {next_h:,g} h.{meant}"
            ),
            "bare": (
                "{hours:,g} h is {times:,.3g} times the longest other life, {next_h:,g} h, and "
                "whole where the others have tenths.{meant}"
            ),
            "serial": (
                "{hours:,g} h is the number by which a spreadsheet keeps the date {date}; the "
                "longest other life is {next_h:,g} h."
            ),
            "rate": (
                "{hours:,g} h in the {days:,} days since {start} is {rate:,.0f} h a year, "
                "{times:,.3g} times the most of any other engine."
            ),
            "bare-rate": (
                "{hours:,g} h, whole where the others have tenths, in the {days:,} days since "
                "{start} is {rate:,.0f} h a year, {times:,.3g} times the most of any other engine."
            ),
        },
        cure={
            "": _LOOK,
            "rate": _LOOK,
            "bare": _MARK,
            "bare-rate": _MARK,
            "serial": (
                "Enter the hours; the cell may hold a date. treat.hours-far = 'set-aside' leaves "
                "the life out. " + FAILURE_ASIDE
            ),
        },
        limit=(
            "FAR_FOLD, LEAST_FOR_FAR, FAR_FROM_NEXT, FAR_FROM_MOST, LEAST_FOR_QUANTILE, "
            "SERIAL_FROM_NEXT, BARE_FROM_NEXT, MARKED_SHARE"
        ),
    ),
    warning(
        "hours-low",
        "A failure after far fewer hours than its dates and the fleet's use would have.",
        says=(
            "The engine failed at {hours:,g} h, {days:,} days after {start}: {rate:,.3g} h a year, "
            "where no other engine has less than {least:,.3g}."
        ),
        cure=(
            "Look at the log: is a digit missing, or do the hours count from elsewhere? "
            "treat.hours-low = 'set-aside' leaves it out. " + FAILURE_ASIDE
        ),
        limit="FAR_FOLD, LEAST_FOR_FAR, FAR_FROM_NEXT, FAR_FROM_MOST, LEAST_FOR_QUANTILE",
    ),
    warning(
        "copied-life",
        "Lives of two ids that are the same to the digit, more often than chance has it.",
        says={
            "": (
                "Engine '{engine}' has the hours and dates of '{other}' in {place} to the digit, "
                "one of {n:,} rows like that; chance would have {by_chance}."
            ),
            "slip": (
                "Engine '{engine}' has the hours and dates of '{other}' in {place} to the digit, "
                "and their ids are one slip apart."
            ),
        },
        cure=(
            "Are they two engines? Ask for both logs; twin engines of one aircraft look "
            "like that. treat.copied-life = 'set-aside' keeps the first of each."
        ),
        limit="COPIES_CHANCE, NEAR_COPIES_CHANCE",
    ),
    warning(
        "ids-alike",
        "Two ids that may be one: they look alike, or two returns have them one slip apart.",
        says={
            "": "'{engine}' and '{other}' in {place} differ only in signs that look alike.",
            "slip": (
                "'{engine}' and '{other}' in {place} are one slip apart, both in service since "
                "{day}, and no return names both."
            ),
        },
        cure="If they are one engine, write one id; if they are two, nothing needs to be done.",
        limit="NEAR_COPIES_CHANCE",
    ),
)
