"""What can be wrong with one cell, whatever column it stands in.

Which finding it is hangs on the column: "twelve" is `hours-unreadable` among the hours and
`covariate-unreadable` among the covariates. The sentence is the same.
"""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import Said

_DATES = "Write dates as year-month-day, such as 2026-03-31."
_ENDING = (
    "Write running if the engine is in service, lost if nobody knows what became of it; else how "
    "it ended."
)

CELLS: dict[str, Said] = {
    "bad": Said("{why} where {what} should be.", "Type the value itself."),
    "flag-for-number": Said("'{cell}' is not {what}.", "Give digits."),
    "date-for-number": Said(
        "A date ({cell:%Y-%m-%d}) stands where {what} should be.",
        "The sheet may have turned the number into a date; type it again as a number.",
    ),
    "formula": Said("A formula ({shown}) stands where {what} should be.", "Give its value."),
    "broken-character": Said("'{shown}' holds a broken character.", "State the encoding."),
    "two-readings": Said(
        "'{shown}' may be read as {readings}; the file uses decimal commas and decimal points.",
        "Use one decimal mark in the whole file.",
    ),
    "no-number": Said("'{shown}' is not {what}.", "Give digits, as 1234{decimal}5."),
    "comma-among-points": Said(
        "'{shown}' is not {what}.",
        "This file uses decimal points; state decimal = ',' if it does not.",
    ),
    "point-among-commas": Said(
        "'{shown}' is not {what}.",
        "This file uses decimal commas; state decimal = '.' if it does not.",
    ),
    "entry-open": Said(
        "'{shown}' names no highest hours at which the engine was first seen.",
        "Give the hours of entry, or a range; an engine may count from its highest hours only.",
    ),
    "clock-in-words": Said(
        "'{shown}' is no single number, which an event that begins or ties a clock needs.",
        "Give the reading in digits.",
    ),
    "number-for-date": Said("'{shown}' is a number where a date should be.", _DATES),
    "day-or-month": Said(
        "'{shown}' may be read with the day or the month first.",
        "State date_order = 'day-first' or 'month-first' for this file.",
    ),
    "short-year": Said("'{shown}' has a year of two digits.", _DATES),
    "no-date": Said("'{shown}' is not a date.", _DATES),
    "no-day": Said("'{shown}' is not a day of the calendar.", "Correct the date."),
    "too-early": Said("{date} is before {first_year}.", "Correct the date."),
    "no-flag": Said("'{shown}' is neither yes nor no.", "Write yes, no or leave empty."),
    "beyond-engine": Said(
        "{x:g} h cannot be the hours of an engine.", "Hours lie between 0 and {most:,.0f}."
    ),
    "no-meter": Said("'{shown}' is no meter kind.", "{hint}"),
    "no-ending": Said("The ending is empty.", _ENDING),
    "ending-silent": Said("The ending says nothing: '{shown}'.", _ENDING),
    "ending": Said("'{shown}' is no known ending.", "{hint}"),
    "ending-overhaul": Said(
        "'{shown}' is no known ending.",
        "Write planned-overhaul if it was due, removed-finding if it was done because of a "
        "finding: the two say different things.",
    ),
    "no-count": Said(
        "{x:g} is no count of engines.", "A whole number from 1 to {most:,}; empty means 1."
    ),
    "no-clock-doubt": Said(
        "{x:g} is no doubt of a clock.",
        "Write 5 % or 0.05, at most {most:g}; empty means what the study says.",
    ),
    "no-cost": Said("{x} is no cost.", "Give digits."),
}
"""What is wrong with a cell = the sentence, and what to do about it."""


def say_cell(trouble: str, /, **fields: object) -> Said:
    """Return what is said of a cell: one of `CELLS`, with its fields filled in."""
    said = CELLS[trouble]
    return Said(said.sentence.format(**fields), said.cure.format(**fields).strip())
