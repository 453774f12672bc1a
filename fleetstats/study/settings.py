"""Every setting of a study, with its default, limits and meaning.

One frozen dataclass is one table of the study file; its fields are the keys. This is the one place
for a new setting: the strict reader, the commented template and the *Assumptions* table of the
report are all made from these fields.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from fleetstats.study.category_settings import CategoryKeys, GroupKeys
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.study.condition_settings import BenchKeys, DelayKeys, ForecastKeys, LeakdownKeys
from fleetstats.study.key import FACT, VERDICT, key
from fleetstats.study.look_settings import LookKeys
from fleetstats.study.pool_settings import MergeKeys
from fleetstats.study.portfolio_settings import PortfolioKeys
from fleetstats.study.stress_settings import StressKeys
from fleetstats.vocabulary.limits import LEAST_READ_H

LEVELS = {
    "power-loss": "loss of power or shutdown in flight",
    "confirmed-removal": "unscheduled removal with an internal fault confirmed",
    "beyond-limits": "confirmed removal, or any condition beyond limits at a check or teardown",
    "top-end": "cylinder or top-end work (recurrent)",
    "accessory": "accessory, ignition, fuel, exhaust or propeller (outside the engine boundary)",
}
"""Failure levels, most severe first (L1 to L5 in the trade)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyKeys:
    """[study]: what is asked, by whom, as of when."""

    title: str = key("Title of the study, as on its report.", default="", required=True, role=FACT)
    asked_by: str = key("Who asks, as a role, not a person's name.", default="", role=FACT)
    decided_by: str = key(
        "Who chose the chances accepted, as a role, not a person's name.", default="", role=FACT
    )
    reader: str = key(
        "Reader whose question comes first.",
        default="builder",
        choices=("builder", "club", "inspector"),
        role=FACT,
    )
    analysis_date: dt.date | None = key(
        "Date to which the records are complete; fixed before the records are drawn.",
        required=True,
        role=FACT,
    )
    since: dt.date | None = key("Count only what happened after this date.", role=VERDICT)
    confidence: float = key(
        "Two-sided confidence; each edge of a 0.90 band is a one-sided 95 % bound.",
        default=0.90,
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
        role=VERDICT,
    )
    claimed_interval_h: float | None = key(
        "Overhaul interval claimed or used today.",
        low=0.0,
        open_low=True,
        unit="h",
        role=FACT,
    )
    seed: int = key("Seed of every random draw.", default=20260101, low=0)
    commercial: bool = key(
        "Operation for hire or training is among the users.", default=False, role=FACT
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursKeys:
    """[hours]: which clock, and how others convert to it."""

    unit: str = key(
        "Unit of the hour columns; a cell that names its own, as 812 h or 812:30, is hours always.",
        default="h",
        choices=("h", "min"),
        role=VERDICT,
    )
    meter: str = key(
        "Meter kind of the standard clock.",
        default="flight",
        choices=("flight", "tach", "hobbs"),
        role=FACT,
    )
    basis: str = key(
        "Origin of life.",
        default="since-new",
        choices=("since-new", "since-overhaul"),
        role=FACT,
    )
    log_hours: str = key(
        "What the hour column of a log counts; since overhaul it restarts at 0 there.",
        default="since-new",
        choices=("since-new", "since-overhaul"),
        role=VERDICT,
    )
    component: str = key(
        "Component whose lives are studied, by its own serial and hours; empty means the engine.",
        default="",
        role=FACT,
    )
    factors: dict[str, Any] = key(
        "For each other meter kind: factor, and its low and high, that "
        "turn its hours into the standard clock.",
        factory=dict,
        role=VERDICT,
    )
    stale_days: int = key(
        "Readings older than this at the analysis date are called stale.",
        default=365,
        low=1,
        unit="days",
    )
    rounded: str = key(
        "Failures written as round figures: taken as exact, or as the interval that they mean.",
        default="as-given",
        choices=("as-given", "interval"),
        role=VERDICT,
    )
    carry_to_analysis_date: bool = key(
        "Carry stale readings to the analysis date with each "
        "engine's own rate of use (never by default).",
        default=False,
        role=VERDICT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionKeys:
    """[question]: what counts as the failure in question."""

    name: str = key("Name of the failure in question.", default="engine failure", role=FACT)
    level: str = key(
        "Failure level.", default="confirmed-removal", choices=tuple(LEVELS), role=VERDICT
    )
    causes: tuple[str, ...] = key(
        "Causes that are in question; empty means every internal cause.",
        default=(),
        role=VERDICT,
    )
    censoring_causes: tuple[str, ...] = key(
        "Causes that say nothing of the engine's own life; they censor.",
        default=(
            "prop strike",
            "accident",
            "fuel contamination",
            "upgrade",
            "calendar overhaul",
            "no fault found",
            "sold",
            "stored",
        ),
        role=VERDICT,
    )
    outside_causes: tuple[str, ...] = key(
        "Causes outside the engine's boundary; a failure of theirs is one from another cause.",
        default=(
            "accessory",
            "ignition",
            "fuel system",
            "exhaust system",
            "propeller",
        ),
        role=VERDICT,
    )
    not_renewed_causes: tuple[str, ...] = key(
        "Causes that an overhaul does not mend; its hours leave them out, claims count them.",
        default=(),
        role=VERDICT,
    )
    unknown_cause: str = key(
        "How a failure of unknown cause counts.",
        default="failure",
        choices=("failure", "competing"),
        role=VERDICT,
    )
    rules: tuple[dict[str, Any], ...] = key(
        "Extra rules, first match wins: any of ending, cause, confirmed, source, build; then "
        "counts_as (failure, competing, censored, finding, excluded) and reason.",
        default=(),
        role=VERDICT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckKeys:
    """[check]: the recurring condition check."""

    interval_h: float = key(
        "Hours between checks.", default=50.0, low=LEAST_READ_H, unit="h", role=FACT
    )
    undetectable_causes: tuple[str, ...] = key(
        "Causes that give no warning at the checks.", default=()
    )
    detection: float = key(
        "Chance that a check finds a fault that is there.",
        default=0.8,
        low=0.0,
        high=1.0,
        open_low=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetKeys:
    """[targets]: what the reader is willing to accept. None is set by any authority."""

    risk_per_check: float | None = key(
        "Accepted chance of failing within the next check interval.",
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
        role=FACT,
    )
    reliability: float = key(
        "Share that should reach overhaul without the failure in question; "
        "0.90 asks for the B10 life.",
        default=0.90,
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
        role=VERDICT,
    )
    accepted_failure_at_claim: float | None = key(
        "Accepted chance of the failure in question by the claimed hours; default 1 minus "
        "reliability.",
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
        role=VERDICT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CostKeys:
    """[cost]: what a failure costs beside a planned overhaul."""

    ratio: float | None = key(
        "Cost of a failure over the cost of a planned overhaul.", low=1.0, open_low=True
    )
    planned: float = key(
        "Cost of a planned overhaul, in any money.", default=1.0, low=0.0, open_low=True
    )
    currency: str = key("Name of the money, for labels.", default="", role=FACT)


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceKeys:
    """[evidence]: how much is enough, and what is assumed where data cannot tell."""

    min_at_risk: int = key(
        "Lives at risk (engines, where each has one life) below which curves are extrapolation.",
        default=10,
        low=1,
        role=VERDICT,
    )
    shapes: tuple[float, ...] = key(
        "Shapes over which answers without a fit are shown.", default=(1.0, 2.0, 3.0, 4.0)
    )
    prior_shape_median: float = key(
        "Median of the shape prior used with few failures.",
        default=3.0,
        low=0.0,
        open_low=True,
        role=VERDICT,
    )
    prior_shape_log_sd: float = key(
        "Standard deviation of log shape in that prior.",
        default=0.7,
        low=0.0,
        open_low=True,
        role=VERDICT,
    )
    prior_source: str = key(
        "Where the shape prior comes from. Once it or the two figures are set, the prior is used "
        "as it stands; the default one is weakened by each failure seen.",
        default="default, wide; not from these engines",
        role=VERDICT,
    )
    resamples: int = key(
        "Weighted resamples for bands and costs.", default=4000, low=200, high=200_000
    )
    method: str = key(
        "Method of the bands.",
        default="auto",
        choices=("auto", "profile", "shape-mixture", "weights", "parametric", "posterior"),
        role=VERDICT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetKeys:
    """[fleet]: the population behind the records."""

    built: int | None = key("Engines built.", low=1, role=FACT)
    serials_file: str = key("File with every serial built, one per row.", default="", role=FACT)
    hours_per_year: float | None = key(
        "Typical use of one engine.",
        low=0.0,
        open_low=True,
        unit="h per year",
        role=FACT,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseRateKeys:
    """[base_rate]: a public occurrence rate to compare with."""

    per_10000_h: float | None = key(
        "Failures per 10,000 h in the public source.",
        low=0.0,
        open_low=True,
        role=FACT,
    )
    source: str = key("Where the rate was published.", default="", role=FACT)
    definition: str = key("What the public source counts.", default="", role=FACT)


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionKeys:
    """[decision]: what ends the advice, and when it is looked at again."""

    stop_failures: int = key(
        "Further confirmed failures of this kind, below the hours at which planning begins, that "
        "end the advice until it is worked out again.",
        default=1,
        low=1,
    )
    review_months: int = key(
        "Months from the analysis date to the review of the advice.",
        default=12,
        low=1,
        high=120,
        unit="months",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatKeys:
    """[treat]: what to do with a kind of audit finding instead of stopping."""

    actions: dict[str, str] = key(
        "Finding code = 'stop', 'set-aside' or 'accept'.", factory=dict, role=VERDICT
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All tables of a study file but its record files.

    Parameters
    ----------
    study, hours, clocks, question, groups, check, targets, cost : tables of keys
        By the names that they have in a study file; so are those below.
    evidence, fleet, base_rate, decision, treat, merge, delay : tables of keys
    leakdown, bench, forecast, portfolio, stress, categories, looks : tables of keys

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.Settings().targets.reliability
    0.9
    """

    study: StudyKeys = field(default_factory=StudyKeys)
    hours: HoursKeys = field(default_factory=HoursKeys)
    clocks: ClockKeys = field(default_factory=ClockKeys)
    question: QuestionKeys = field(default_factory=QuestionKeys)
    groups: GroupKeys = field(default_factory=GroupKeys)
    check: CheckKeys = field(default_factory=CheckKeys)
    targets: TargetKeys = field(default_factory=TargetKeys)
    cost: CostKeys = field(default_factory=CostKeys)
    evidence: EvidenceKeys = field(default_factory=EvidenceKeys)
    fleet: FleetKeys = field(default_factory=FleetKeys)
    base_rate: BaseRateKeys = field(default_factory=BaseRateKeys)
    decision: DecisionKeys = field(default_factory=DecisionKeys)
    treat: TreatKeys = field(default_factory=TreatKeys)
    merge: MergeKeys = field(default_factory=MergeKeys)
    delay: DelayKeys = field(default_factory=DelayKeys)
    leakdown: LeakdownKeys = field(default_factory=LeakdownKeys)
    bench: BenchKeys = field(default_factory=BenchKeys)
    forecast: ForecastKeys = field(default_factory=ForecastKeys)
    portfolio: PortfolioKeys = field(default_factory=PortfolioKeys)
    stress: StressKeys = field(default_factory=StressKeys)
    categories: CategoryKeys = field(default_factory=CategoryKeys)
    looks: LookKeys = field(default_factory=LookKeys)
