"""Impossible combinations in the tables of checks, leak-down, bench and forecast."""

from __future__ import annotations

from fleetstats.study.condition_settings import BenchKeys
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import show
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.nearest import did_you_mean

FIELDS = {"checks": CHECK_FIELDS, "leakdown": LEAKDOWN_FIELDS, "bench": BENCH_FIELDS}
"""Our columns by the shapes that chapters read."""
MOST_INTERVALS = 20
ABSOLUTE_ZERO_C = -273.15


def check_condition(settings: Settings, problems: list[str]) -> None:
    """Add what cannot be in the on-condition tables to `problems`, each with its key's path."""
    d, b, f = settings.delay, settings.bench, settings.forecast
    if d.detection_low > d.detection_high:
        problems.append(
            f"delay.detection_low = {show(d.detection_low)}: must not be above detection_high = "
            f"{show(d.detection_high)}."
        )
    if not 1 <= len(d.intervals_h) <= MOST_INTERVALS or any(not 0 < t < 1e5 for t in d.intervals_h):
        problems.append(
            f"delay.intervals_h = {show(d.intervals_h)}: must be 1 to {MOST_INTERVALS} numbers of "
            "hours above 0."
        )
    limit = settings.leakdown.makers_limit
    if limit is not None and limit >= settings.leakdown.supply:
        problems.append(
            f"leakdown.makers_limit = {show(limit)}: must be below the supply of "
            f"{settings.leakdown.supply:g}; it is a reading, not a loss."
        )
    low, mid, high = b.cycles_per_hour_low, b.cycles_per_hour, b.cycles_per_hour_high
    given = [x for x in (low, mid, high) if x is not None]
    if given != sorted(given):
        problems.append(
            "bench.cycles_per_hour: low, stated and high value must rise, not "
            f"{', '.join(show(x) for x in given)}."
        )
    if mid is None and given:
        problems.append("bench.cycles_per_hour: is missing, though its low or high value is given.")
    coldest = coldest_stress(b)
    if b.service_stress is not None and b.service_stress <= coldest:
        problems.append(
            f"bench.service_stress = {show(b.service_stress)}: must be above {coldest:g}."
        )
    end = settings.study.analysis_date
    if f.backtest_date is not None and end is not None and f.backtest_date >= end:
        problems.append(
            f"forecast.backtest_date = {f.backtest_date}: must lie before the analysis date, {end}."
        )


def coldest_stress(bench: BenchKeys) -> float:
    """Return what every stress lies above: 0, or absolute zero for a temperature in Celsius."""
    celsius = bench.relation == "arrhenius" and bench.temperature_unit == "C"
    return ABSOLUTE_ZERO_C if celsius else 0.0


def check_condition_columns(f: RecordKeys, where: str, problems: list[str]) -> None:
    """Add column names that a file of checks, readings or bench runs does not have."""
    if f.shape not in FIELDS:
        return
    names = [x.name for x in FIELDS[f.shape]]
    problems += [
        f"{where}.columns.{ours}: unknown column of ours. {did_you_mean(ours, names)}"
        for ours in f.columns
        if ours not in names
    ]
