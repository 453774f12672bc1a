"""Thresholds of the rules that find something odd or give a caution: each once, with its reason.

A rule takes the number from here; the pages of findings and cautions print the reason and the
source from `LIMITS` of `limit_reasons.py`.
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
ABOUT_SHARE: Final = 0.05
SHORT_YEARS_BACK: Final = 80

# -- findings: rows and lives that cannot be what they say they are --------------------------------

LEAST_READ_H: Final = 0.01
SUM_TOLERANCE_H: Final = 0.051
FEWEST_SUMMED: Final = 2
FEWEST_SUMMED_BY_ID: Final = 5
SUM_STANDS_OUT: Final = 2.0
FAR_FOLD: Final = 10.0
FAR_FROM_NEXT: Final = 3.0
FAR_FROM_MOST: Final = 5.0
FAR_QUANTILE: Final = 0.90
LEAST_FOR_FAR: Final = 3
LEAST_FOR_QUANTILE: Final = 10
FAR_MOST_SHARE: Final = 0.05
SERIAL_FROM_NEXT: Final = 2.0
MARKED_SHARE: Final = 0.80
BARE_FROM_NEXT: Final = 2.0
COPIES_CHANCE: Final = 1e-3
NEAR_COPIES_CHANCE: Final = 0.01
ODD_MOVES_BOUND: Final = 0.10
APART_H: Final = 50.0
APART_SHARE: Final = 0.05

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
LAWS_APART: Final = 1.25
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
ONE_ENGINE_SHARE: Final = 0.20
PRIOR_LEFT: Final = 0.80
PRIOR_MOVED: Final = 0.20

# -- cautions: settings that bend the question -----------------------------------------------------

LEAST_CONFIDENCE: Final = 0.80
LEAST_CLAIM_H: Final = 10.0
LEAST_CLAIM_SHARE: Final = 0.1
MOST_ACCEPTED: Final = 0.5
LEAST_MIN_AT_RISK: Final = 5

# -- cautions: chances and ages --------------------------------------------------------------------

PLAN_RISK: Final = 0.10
CONTRADICTED_P: Final = 0.05
SHOWN_P: Final = 0.05
CARRIED_BY_CHANCE: Final = 0.05
RELATED_P: Final = 0.05
CURVE_DOUBT_P: Final = 0.05
FAR_FROM_TESTED: Final = 0.5
CALENDAR_YEARS: Final = 12.0
IDLE_H_PER_YEAR: Final = 30.0
LEAST_FOR_CALENDAR: Final = 5
MUCH_NOT_GIVEN: Final = 0.1

# -- cautions: looks at growing records ------------------------------------------------------------

LOOKS_UNPLANNED: Final = 3

# -- cautions: removals and sources ----------------------------------------------------------------

HONEST_P: Final = 0.05
LEAST_OF_KIND: Final = 3
FAR_FEWER: Final = 0.5
BEFORE_CLAIM: Final = 0.9

# -- cautions: a rate that changed -----------------------------------------------------------------

LEAST_TO_CHANGE: Final = 2

CHUNKS_MEASURED: Final = (
    "measured by tests/bench/bench_bulk.py: 75 s of a processor and 0.6 GB whole at 100,000 rows, "
    "265 s and 0.9 GB at 300,000; by chunks 4 s and 5 s"
)
