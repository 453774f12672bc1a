"""The reference cases, as the package's own selftest reads them."""

from fleetstats.selftest.cases import (
    DATA,
    case,
    columns,
    expected,
    never_failed,
    numbers,
    one_cause,
    single_system,
    spells,
    three_systems,
    tolerance,
    valve_seats,
)

__all__ = [
    "DATA", "case", "columns", "expected", "never_failed", "numbers", "one_cause", "single_system",
    "spells", "three_systems", "tolerance", "valve_seats",
]  # fmt: skip
