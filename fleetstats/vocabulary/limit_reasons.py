"""Why each threshold of `limits.py` is what it is, and where it comes from."""

from __future__ import annotations

from fleetstats.vocabulary.doubt.reasons import WORDS_LIMITS
from fleetstats.vocabulary.findings.slip_limits import SLIP_LIMITS
from fleetstats.vocabulary.limits import (
    APART_H,
    APART_SHARE,
    BEFORE_CLAIM,
    BEYOND_SHARE,
    CALENDAR_YEARS,
    CARRIED_BY_CHANCE,
    CHUNKS_FROM_BYTES,
    CHUNKS_FROM_ROWS,
    CHUNKS_MEASURED,
    CONDITION_SLACK_H,
    CONTRADICTED_P,
    CONVENTION,
    COPIES_CHANCE,
    CURVE_DOUBT_P,
    ENOUGH_FOR_SHAPE,
    FAR_FEWER,
    FAR_FOLD,
    FAR_FROM_MOST,
    FAR_FROM_NEXT,
    FAR_FROM_TESTED,
    FAR_MOST_SHARE,
    FAR_QUANTILE,
    FEW_FAULTS,
    FEW_FAULTS_OF_MODE,
    FEW_FOR_SHAPE,
    FEW_FOR_TWO,
    FEW_FOR_WEIGHTS,
    FEW_SOURCES,
    FEWEST_EVENTS,
    FEWEST_SUMMED,
    FEWEST_SUMMED_BY_ID,
    FINDINGS_SHARE,
    HEAP_CHANCE,
    HEAP_SHARE,
    HONEST_P,
    IDLE_H_PER_YEAR,
    LARGEST_SHARE,
    LATE_SHARE,
    LAWS_APART,
    LEAST_AT_RISK,
    LEAST_CLAIM_H,
    LEAST_CLAIM_SHARE,
    LEAST_CONFIDENCE,
    LEAST_FOR_CALENDAR,
    LEAST_FOR_FAR,
    LEAST_FOR_HEAPS,
    LEAST_FOR_QUANTILE,
    LEAST_LEVELS,
    LEAST_MIN_AT_RISK,
    LEAST_OF_KIND,
    LEAST_TO_CHANGE,
    LOOKS_UNPLANNED,
    MOST_ACCEPTED,
    MUCH_NOT_GIVEN,
    NEAR_COPIES_CHANCE,
    ODD_MOVES_BOUND,
    ONE_ENGINE_SHARE,
    OWN,
    PLAIN_FROM,
    PLAN_RISK,
    PRACTICE,
    PRIOR_LEFT,
    PRIOR_MOVED,
    RELATED_P,
    SECOND_BUILD_SHARE,
    SHOWN_P,
    STALE_SHARE,
    SUM_STANDS_OUT,
    SUM_TOLERANCE_H,
    UNKNOWN_CAUSE_SHARE,
    Limit,
)

LIMITS: dict[str, Limit] = {
    "CURVE_DOUBT_P": Limit(
        CURVE_DOUBT_P, "chance", "Below it lives differ from the curve.", CONVENTION
    ),
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
    **SLIP_LIMITS,
    "SUM_TOLERANCE_H": Limit(
        SUM_TOLERANCE_H, "h", "Sums are printed to 0.1 h, so they may be half of that off.", OWN
    ),
    "FEWEST_SUMMED": Limit(
        FEWEST_SUMMED, "rows", "The fewest that a line without an id can be the sum of.", OWN
    ),
    "FEWEST_SUMMED_BY_ID": Limit(
        FEWEST_SUMMED_BY_ID,
        "rows",
        "An honest life equals the sum of two or three others by chance, of so many hardly ever.",
        OWN,
    ),
    "SUM_STANDS_OUT": Limit(
        SUM_STANDS_OUT,
        "times the longest other life",
        "A sum of several lives that is no longer than that may be a life.",
        OWN,
    ),
    "FAR_FOLD": Limit(
        FAR_FOLD,
        "times the longest other life",
        "A decimal mark or a digit too many makes ten of one.",
        OWN,
    ),
    "FAR_FROM_NEXT": Limit(
        FAR_FROM_NEXT,
        "times the longest of the rest",
        "A longest life so far off is no chance of one law: with a steady risk 1 fleet of 80 has "
        "one among 12 lives, 1 of 600 among 30, and with wear-out fewer.",
        "measured in tests/unit/test_far_lives.py",
    ),
    "FAR_FROM_MOST": Limit(
        FAR_FROM_MOST,
        "times what 90 % of the rest do not pass",
        "Beside the longest of the rest, so that a gap among few old engines alone is no finding.",
        OWN,
    ),
    "FAR_QUANTILE": Limit(
        FAR_QUANTILE, "share of lives", "What most lives of a fleet do not pass.", CONVENTION
    ),
    "LEAST_FOR_FAR": Limit(
        LEAST_FOR_FAR, "other lives", "Of fewer, no life is far from the rest.", OWN
    ),
    "LEAST_FOR_QUANTILE": Limit(
        LEAST_FOR_QUANTILE, "other lives", "Of fewer, their upper end is not known.", OWN
    ),
    "FAR_MOST_SHARE": Limit(
        FAR_MOST_SHARE,
        "share of lives",
        "More lives than that far beyond the rest are a second kind of engine, not slips.",
        OWN,
    ),
    "COPIES_CHANCE": Limit(
        COPIES_CHANCE,
        "chance",
        "Equal lives rarer than this are not the chance of honest readings.",
        OWN,
    ),
    "NEAR_COPIES_CHANCE": Limit(
        NEAR_COPIES_CHANCE,
        "chance",
        "The same for ids one slip apart, which are a reason of their own to doubt.",
        OWN,
    ),
    "ODD_MOVES_BOUND": Limit(
        ODD_MOVES_BOUND,
        "share of the bound",
        "Doubtful lives that move it by less change no decision.",
        OWN,
    ),
    "APART_H": Limit(
        APART_H,
        "h",
        "Hours by which two honest readings of one day differ at most: both may be rounded.",
        PRACTICE,
    ),
    "APART_SHARE": Limit(
        APART_SHARE, "share of the hours", "The same for old engines, read on two clocks.", PRACTICE
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
    "LAWS_APART": Limit(
        LAWS_APART,
        "ratio",
        "Above it, between upper limits of the share that fails first, laws of the warning time "
        "part at an interval other than today's.",
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
    "ONE_ENGINE_SHARE": Limit(
        ONE_ENGINE_SHARE, "share of the lives' worth", "Above it one engine makes the answer.", OWN
    ),
    "CARRIED_BY_CHANCE": Limit(
        CARRIED_BY_CHANCE,
        "chance",
        "Below it, shared among those left out, as many engines at random do not move the answer "
        "so far.",
        CONVENTION,
    ),
    "PRIOR_LEFT": Limit(
        PRIOR_LEFT, "share of the prior's spread", "Above it the records taught nothing.", OWN
    ),
    "PRIOR_MOVED": Limit(
        PRIOR_MOVED,
        "share of the records' own bound",
        "A bound that an assumption moves further is the assumption's; methods of the bands differ "
        "by less among themselves from 10 failures on.",
        OWN,
    ),
    "LEAST_CONFIDENCE": Limit(
        LEAST_CONFIDENCE,
        "two-sided confidence",
        "Below it an edge fails in more than 1 of 10 such fleets.",
        PRACTICE,
    ),
    "LEAST_CLAIM_H": Limit(
        LEAST_CLAIM_H, "h", "No overhaul interval is shorter; 1.000 is a thousand, mistyped.", OWN
    ),
    "LEAST_CLAIM_SHARE": Limit(
        LEAST_CLAIM_SHARE,
        "of the median age at exit",
        "Nearly every engine ran ten times as long: a bound there says nothing of overhaul.",
        OWN,
    ),
    "MOST_ACCEPTED": Limit(
        MOST_ACCEPTED, "share of engines", "Above it most may fail and the claim still holds.", OWN
    ),
    "LEAST_MIN_AT_RISK": Limit(
        LEAST_MIN_AT_RISK,
        "lives at risk",
        "As few as LEAST_AT_RISK make a step of the curve; the evidence ends before.",
        OWN,
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
    "MUCH_NOT_GIVEN": Limit(
        MUCH_NOT_GIVEN, "of the lives", "Above it those without a value can turn an effect.", OWN
    ),
    "LOOKS_UNPLANNED": Limit(
        LOOKS_UNPLANNED,
        "looks",
        "From so many on, each taken by itself, 5 % has become a tenth and more.",
        "Armitage, McPherson and Rowe (1969)",
    ),
    "HONEST_P": Limit(
        HONEST_P,
        "chance",
        "Held over all tests of a chapter: honest records are doubted in at most so many studies.",
        CONVENTION,
    ),
    "LEAST_OF_KIND": Limit(
        LEAST_OF_KIND, "lives", "Of fewer, ages say nothing of what ended them.", OWN
    ),
    "LEAST_TO_CHANGE": Limit(
        LEAST_TO_CHANGE,
        "failures",
        "One failure alone may be the first of anything; with two, their dates can be compared.",
        OWN,
    ),
    "FAR_FEWER": Limit(
        FAR_FEWER,
        "times the rate of the others",
        "A source whose upper limit lies below tells fewer than honest differences in use explain.",
        OWN,
    ),
    "BEFORE_CLAIM": Limit(
        BEFORE_CLAIM,
        "times the claimed hours",
        "Overhauls before it did not wait for the hours claimed; later ones are the usual spread.",
        PRACTICE,
    ),
    **WORDS_LIMITS,
}
"""Name of a constant of this file = what it is."""
