"""Settings of the on-condition chapters: check interval, leak-down, bench and forecast."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetstats.study.key import FACT, key


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayKeys:
    """[delay]: faults that can be seen before they fail, and the checks that look for them."""

    arrival: str = key(
        "How faults arise with hours: at a steady rate, or at a rate that changes with age.",
        default="steady",
        choices=("steady", "weibull"),
    )
    delay: str = key(
        "Law of the warning time between a fault that can be seen and the failure; averaged: over "
        "an exponential, a Weibull, and a share of faults that no check sees.",
        default="averaged",
        choices=("averaged", "exponential", "weibull"),
    )
    detection_low: float = key(
        "Lowest chance of detection that is thought possible.",
        default=0.6,
        low=0.0,
        high=1.0,
        open_low=True,
    )
    detection_high: float = key(
        "Highest chance of detection that is thought possible.",
        default=1.0,
        low=0.0,
        high=1.0,
        open_low=True,
    )
    prior_mean_h: float | None = key(
        "Median of a stated prior on the mean warning time; none by default.",
        low=0.0,
        open_low=True,
        unit="h",
    )
    prior_log_sd: float = key(
        "Standard deviation of the log mean warning time in that prior.",
        default=0.7,
        low=0.0,
        open_low=True,
    )
    prior_source: str = key("Where that prior comes from.", default="")
    accepted_share: float | None = key(
        "Accepted share of faults that fail before a check finds them.",
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
    )
    intervals_h: tuple[float, ...] = key(
        "Hours between checks that are compared.", default=(10.0, 25.0, 50.0, 75.0, 100.0, 200.0)
    )
    assume_checks: bool = key(
        "Where an engine has no check records, assume checks at the usual interval.", default=True
    )
    cost_check: float | None = key("Cost of one check.", low=0.0)
    cost_repair: float | None = key("Cost of mending a fault that a check found.", low=0.0)
    cost_failure: float | None = key("Cost of a failure in service.", low=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakdownKeys:
    """[leakdown]: differential compression readings, cylinder by cylinder."""

    supply: float = key(
        "Supply pressure of a reading that names none.",
        default=80.0,
        low=0.0,
        open_low=True,
        role=FACT,
    )
    unit: str = key(
        "Unit of the pressures.", default="psi", choices=("psi", "bar", "kPa"), role=FACT
    )
    loss_limit: float = key(
        "Greatest accepted loss as a share of supply; common practice, applies only where the "
        "maker gives no data.",
        default=0.25,
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
    )
    makers_limit: float | None = key(
        "Limit from the engine's manual, as a reading at the supply above.",
        low=0.0,
        open_low=True,
        role=FACT,
    )
    makers_source: str = key("Document that gives the maker's limit.", default="", role=FACT)
    use_reference: bool = key(
        "Judge by the reference orifice read on the day, where it was read.", default=True
    )
    min_readings: int = key(
        "Checks of a cylinder since its last repair below which no trend is claimed.",
        default=4,
        low=3,
    )
    reset_actions: tuple[str, ...] = key(
        "Actions after which a cylinder's trend starts anew.",
        default=("cylinder change", "valve work", "regrind", "top overhaul", "rings"),
    )
    step_sd: float = key(
        "Robust standard deviations beyond which a reading is called odd or a step.",
        default=3.0,
        low=1.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchKeys:
    """[bench]: parts run to destruction above rating."""

    relation: str = key(
        "How life falls with stress: a power of the stress, exponentially, or with the temperature "
        "as Arrhenius has it.",
        default="power",
        choices=("power", "exponential", "arrhenius"),
    )
    temperature_unit: str = key(
        "Unit of the temperatures where relation is arrhenius: C (Celsius) or K (kelvin).",
        default="C",
        choices=("C", "K"),
        role=FACT,
    )
    stress_name: str = key("Name of the stress, with its unit.", default="stress", role=FACT)
    life_unit: str = key(
        "Lives on the bench in hours, written in the unit of [hours], or in cycles.",
        default="h",
        choices=("h", "cycles"),
        role=FACT,
    )
    service_stress: float | None = key(
        "Stress in service, above 0; a temperature in Celsius may be lower.", role=FACT
    )
    cycles_per_hour: float | None = key(
        "Damaging cycles in one hour of service.", low=0.0, open_low=True
    )
    cycles_per_hour_low: float | None = key(
        "Lowest credible count of these cycles.", low=0.0, open_low=True
    )
    cycles_per_hour_high: float | None = key(
        "Highest credible count of these cycles.", low=0.0, open_low=True
    )
    mode: str = key("Failure mode that is fitted; empty means all.", default="", role=FACT)
    field_causes: tuple[str, ...] = key(
        "Causes in the life records that are this mode; empty means the same name.", default=()
    )
    field_mode_proof: str = key(
        "How the field failures were proven to be of the same mode; empty: not proven, and bench "
        "and field are not joined.",
        default="",
        role=FACT,
    )
    build: str = key(
        "Build standard of the benched parts; bench and field are compared within it. Empty: not "
        "said, and each build of the field is compared by itself.",
        default="",
    )
    required_h: float | None = key(
        "Hours that service must reach; default the claimed interval.",
        low=0.0,
        open_low=True,
        role=FACT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastKeys:
    """[forecast]: what is coming, for the whole fleet and for each engine."""

    months: float = key(
        "Length of the forecast.", default=12.0, low=0.0, high=600.0, open_low=True, role=FACT
    )
    hours: float | None = key(
        "Hours that each engine runs in the forecast, instead of months at its own rate.",
        low=0.0,
        open_low=True,
        unit="h",
        role=FACT,
    )
    planned_overhaul_h: float | None = key(
        "Hours of the planned overhaul; default the claimed interval.",
        low=0.0,
        open_low=True,
        unit="h",
        role=FACT,
    )
    repair_months: float = key(
        "Months from a removal to a serviceable engine again.", default=3.0, low=0.0, open_low=True
    )
    service_level: float = key(
        "Chance that the spares suffice.",
        default=0.9,
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
    )
    false_alarm: float = key(
        "Accepted chance that the alert level is reached though nothing has changed.",
        default=0.05,
        low=0.0,
        high=0.5,
        open_low=True,
    )
    draws: int = key("Parameter draws behind the forecast.", default=2000, low=200, high=200_000)
    backtest_date: dt.date | None = key(
        "Earlier date at which the forecast is made anew and compared; default 12 months back.",
        role=FACT,
    )
