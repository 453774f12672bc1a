"""Thresholds of the rules that find something odd or give a caution: each once, with its reason.

A rule takes the number from here; the pages of findings and cautions print the reason and the
source from `LIMITS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

CONVENTION: Final = "a convention, no source"
PRACTICE: Final = "common practice, no source"
OWN: Final = "our own choice, no source"


@dataclass(frozen=True, slots=True)
class Limit:
    """A threshold: its value, its unit as words, why it is there, and where it comes from."""

    value: float
    unit: str
    reason: str
    source: str


# -- findings --------------------------------------------------------------------------------------

LEAST_FOR_HEAPS: Final = 30
HEAP_CHANCE: Final = 1e-4
HEAP_SHARE: Final = 3.0
CONDITION_SLACK_H: Final = 1.0

# -- whole or by chunks ----------------------------------------------------------------------------

CHUNKS_FROM_BYTES: Final = 10 * 2**20
CHUNKS_FROM_ROWS: Final = 200_000

# -- cautions: failures ----------------------------------------------------------------------------

FEW_FOR_SHAPE: Final = 5
FEW_FOR_TWO: Final = 10
ENOUGH_FOR_SHAPE: Final = 10
FEW_FAULTS_OF_MODE: Final = 5
FEW_FOR_WEIGHTS: Final = 10.0
FEW_FAULTS: Final = 3
FEWEST_EVENTS: Final = 5
FEW_SOURCES: Final = 5
LEAST_AT_RISK: Final = 5
PLAIN_FROM: Final = 10.0
LEAST_LEVELS: Final = 3

# -- cautions: shares ------------------------------------------------------------------------------

LATE_SHARE: Final = 0.20
FINDINGS_SHARE: Final = 0.05
STALE_SHARE: Final = 0.20
BEYOND_SHARE: Final = 0.20
UNKNOWN_CAUSE_SHARE: Final = 0.10
SECOND_BUILD_SHARE: Final = 0.20
LARGEST_SHARE: Final = 0.5
PRIOR_LEFT: Final = 0.80

# -- cautions: chances and ages --------------------------------------------------------------------

PLAN_RISK: Final = 0.10
CONTRADICTED_P: Final = 0.05
SHOWN_P: Final = 0.05
RELATED_P: Final = 0.05
CURVE_DOUBT_P: Final = 0.05
FAR_FROM_TESTED: Final = 0.5
CALENDAR_YEARS: Final = 12.0
IDLE_H_PER_YEAR: Final = 30.0
LEAST_FOR_CALENDAR: Final = 5

CHUNKS_MEASURED: Final = (
    "measured by tests/bench/bench_bulk.py: 75 s of a processor and 0.6 GB whole at 100,000 rows, "
    "265 s and 0.9 GB at 300,000; by chunks 4 s and 5 s"
)

LIMITS: dict[str, Limit] = {
    "LEAST_FOR_HEAPS": Limit(
        LEAST_FOR_HEAPS, "readings", "Of fewer, rounding cannot be told from chance.", OWN
    ),
    "HEAP_CHANCE": Limit(
        HEAP_CHANCE, "chance", "A heap rarer than this is not the chance of honest readings.", OWN
    ),
    "HEAP_SHARE": Limit(
        HEAP_SHARE,
        "times as often",
        "Rounded hours less frequent than this may be real and change no answer.",
        OWN,
    ),
    "CONDITION_SLACK_H": Limit(
        CONDITION_SLACK_H,
        "h",
        "Hours past the end of a life that are still the same event; meters are read to 0.1 h.",
        PRACTICE,
    ),
    "CHUNKS_FROM_BYTES": Limit(
        CHUNKS_FROM_BYTES,
        "bytes of a CSV file",
        "About CHUNKS_FROM_ROWS rows of usual length.",
        CHUNKS_MEASURED,
    ),
    "CHUNKS_FROM_ROWS": Limit(
        CHUNKS_FROM_ROWS,
        "rows of a Parquet file",
        "Read whole, with every chapter, a study of so many takes minutes, and more with each row; "
        "by chunks it takes seconds.",
        CHUNKS_MEASURED,
    ),
    "FEW_FOR_SHAPE": Limit(
        FEW_FOR_SHAPE, "failures", "Below it no shape is read; a range of shapes is stated.", OWN
    ),
    "FEW_FOR_TWO": Limit(
        FEW_FOR_TWO, "failures", "Below it statements on both shape and scale are weak.", PRACTICE
    ),
    "ENOUGH_FOR_SHAPE": Limit(
        ENOUGH_FOR_SHAPE,
        "failures",
        "From so many on a shape's band that holds 1 says more than that failures are few: at a "
        "true shape of 2 it would by then lie above 1 more often than not.",
        OWN,
    ),
    "FEW_FAULTS_OF_MODE": Limit(
        FEW_FAULTS_OF_MODE, "faults", "Below it a mode gets counts but no fit of its own.", OWN
    ),
    "FEW_FOR_WEIGHTS": Limit(
        FEW_FOR_WEIGHTS,
        "failures",
        "Below it weighted refits do not carry the doubt of the parameters; shapes are mixed by "
        "the stated prior.",
        "measured in tests/coverage/test_forecast_coverage.py",
    ),
    "FEW_FAULTS": Limit(
        FEW_FAULTS,
        "failures before detection",
        "Below it the mean warning time has only a lower limit.",
        OWN,
    ),
    "FEWEST_EVENTS": Limit(
        FEWEST_EVENTS, "events", "Below it no growth and no trend is spoken of.", OWN
    ),
    "FEW_SOURCES": Limit(
        FEW_SOURCES,
        "sources with failures",
        "Below it the spread between sources comes from the prior.",
        PRACTICE,
    ),
    "LEAST_AT_RISK": Limit(
        LEAST_AT_RISK, "lives at risk", "Below it one failure makes a step of the curve.", OWN
    ),
    "PLAIN_FROM": Limit(
        PLAIN_FROM,
        "failures for each covariate",
        "Below it effects are held back towards none.",
        PRACTICE,
    ),
    "LEAST_LEVELS": Limit(
        LEAST_LEVELS,
        "stresses with failures",
        "Below it the law between stress and life cannot be tested.",
        "Ma and Meeker (2009)",
    ),
    "LATE_SHARE": Limit(
        LATE_SHARE,
        "share of exposure",
        "Above it answers are conditional on reaching the age of joining.",
        OWN,
    ),
    "FINDINGS_SHARE": Limit(
        FINDINGS_SHARE, "share of exits", "Above it removals on a finding inform of failures.", OWN
    ),
    "STALE_SHARE": Limit(
        STALE_SHARE, "share of running engines", "Above it exposure is cut short.", OWN
    ),
    "BEYOND_SHARE": Limit(
        BEYOND_SHARE,
        "share of expected failures",
        "Above it a forecast rests on ages that nobody saw.",
        OWN,
    ),
    "UNKNOWN_CAUSE_SHARE": Limit(
        UNKNOWN_CAUSE_SHARE, "share of failures", "Above it advice by cause rests on guesses.", OWN
    ),
    "SECOND_BUILD_SHARE": Limit(
        SECOND_BUILD_SHARE, "share of exposure", "From it on a second build moves the answer.", OWN
    ),
    "LARGEST_SHARE": Limit(
        LARGEST_SHARE, "share of events", "Above it two engines make the fleet's curve.", OWN
    ),
    "PRIOR_LEFT": Limit(
        PRIOR_LEFT, "share of the prior's spread", "Above it the records taught nothing.", OWN
    ),
    "PLAN_RISK": Limit(
        PLAN_RISK, "chance", "Above it an owner should know before gathering evidence.", OWN
    ),
    "CONTRADICTED_P": Limit(
        CONTRADICTED_P, "chance", "Below it a steady rate of faults is contradicted.", CONVENTION
    ),
    "SHOWN_P": Limit(
        SHOWN_P, "chance", "Below it a check of shape or of proportional hazards fails.", CONVENTION
    ),
    "RELATED_P": Limit(RELATED_P, "chance", "Below it entry age is related to life.", CONVENTION),
    "CURVE_DOUBT_P": Limit(
        CURVE_DOUBT_P, "chance", "Below it lives differ from the curve.", CONVENTION
    ),
    "FAR_FROM_TESTED": Limit(
        FAR_FROM_TESTED,
        "widths of the tested range",
        "Above it the life in service rests on the assumed law.",
        OWN,
    ),
    "CALENDAR_YEARS": Limit(
        CALENDAR_YEARS,
        "years",
        "A usual calendar limit between overhauls; past it hours alone are doubted.",
        PRACTICE,
    ),
    "IDLE_H_PER_YEAR": Limit(
        IDLE_H_PER_YEAR, "h a year", "Below it an engine mostly stands still.", PRACTICE
    ),
    "LEAST_FOR_CALENDAR": Limit(
        LEAST_FOR_CALENDAR, "running engines", "Of fewer, a median age says little.", OWN
    ),
}
"""Name of a constant of this file = what it is."""
