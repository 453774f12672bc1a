"""Why the thresholds by which slips of hours are known stand where they do, and their sources."""

from __future__ import annotations

from fleetstats.vocabulary.limits import (
    BARE_FROM_NEXT,
    LEAST_READ_H,
    MARKED_SHARE,
    OWN,
    PRACTICE,
    SERIAL_FROM_NEXT,
    Limit,
)

SLIP_LIMITS: dict[str, Limit] = {
    "LEAST_READ_H": Limit(
        LEAST_READ_H,
        "h",
        "Meters show tenths of an hour, the finest hundredths; what is less was never read.",
        PRACTICE,
    ),
    "SERIAL_FROM_NEXT": Limit(
        SERIAL_FROM_NEXT,
        "times the longest life that is no date's number",
        "Days since 1990 have the numbers from 32,874 on, more than light engines live.",
        OWN,
    ),
    "MARKED_SHARE": Limit(
        MARKED_SHARE,
        "share of lives",
        "One reading in ten on a meter of tenths is whole; more are from another habit.",
        OWN,
    ),
    "BARE_FROM_NEXT": Limit(
        BARE_FROM_NEXT,
        "times the greatest of those told in tenths",
        "Of honest fleets of 30 with a steady risk fewer than 1 in 100 have a whole longest life "
        "so far off.",
        "measured in tests/unit/test_slips.py",
    ),
}
"""By name; part of `LIMITS` of `limit_reasons.py`."""
