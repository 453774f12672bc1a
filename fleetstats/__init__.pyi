"""The public names for type checkers and editors: made by tests/docs_pages.py."""

# ruff: noqa: I001
from fleetstats.advice.advise import advise_hours as advise_hours
from fleetstats.advice.cost.rates import has_practical_optimum as has_practical_optimum
from fleetstats.advice.cost.rates import optimum_age as optimum_age
from fleetstats.advice.quotes.quote import quote as quote
from fleetstats.advice.success_run import success_run as success_run
from fleetstats.bands.bayes.posterior import LifePrior as LifePrior
from fleetstats.bands.bayes.posterior import fit_posterior as fit_posterior
from fleetstats.bands.bayes.posterior import posterior_interval as posterior_interval
from fleetstats.bands.bayes.prior import ShapePrior as ShapePrior
from fleetstats.bands.choose import band as band
from fleetstats.bands.choose import band_curve as band_curve
from fleetstats.bands.interval import Band as Band
from fleetstats.bands.interval import Interval as Interval
from fleetstats.bands.quantity import Quantity as Quantity
from fleetstats.bands.resampling.refit import refit as resample_fits
from fleetstats.bands.whole_curve import band_whole_curve as band_whole_curve
from fleetstats.chapters.ahead.forecast import forecast_fleet as forecast_fleet
from fleetstats.chapters.ahead.outlook import look_ahead as look_ahead
from fleetstats.chapters.claim.compute import advise_claim as advise_claim
from fleetstats.chapters.compose import compose_report as compose_report
from fleetstats.chapters.plan.compute import plan_evidence as plan_evidence
from fleetstats.chapters.recurrence.ahead import predict_count as predict_count
from fleetstats.core.errors import ArgumentError as ArgumentError
from fleetstats.core.errors import BandError as BandError
from fleetstats.core.errors import DataError as DataError
from fleetstats.core.errors import FitError as FitError
from fleetstats.core.errors import FleetstatsError as FleetstatsError
from fleetstats.core.errors import NoMaximum as NoMaximum
from fleetstats.core.errors import SettingError as SettingError
from fleetstats.core.errors import SpellError as SpellError
from fleetstats.records.audit.audit import audit_records as audit_records
from fleetstats.records.mending.propose import propose_mends as propose_mends
from fleetstats.records.mending.take import take_mends as take_mends
from fleetstats.records.merging.merge import merge_returns as merge_returns
from fleetstats.records.readers import read_records as read_records
from fleetstats.report.write import write_report as write_report
from fleetstats.spells.build import build_spells as build_spells
from fleetstats.spells.event import Event as Event
from fleetstats.spells.histories import Histories as Histories
from fleetstats.spells.running import RunningEngine as RunningEngine
from fleetstats.spells.running import find_running as find_running
from fleetstats.spells.spells import Spells as Spells
from fleetstats.studies.analyse import analyse as analyse
from fleetstats.studies.compare.attribution import walk_advice as walk_advice
from fleetstats.studies.from_lives import advise as advise
from fleetstats.studies.from_lives import claim as claim
from fleetstats.studies.from_lives import plan as plan
from fleetstats.studies.watch.compute import watch_fleet as watch_fleet
from fleetstats.study.made.made_settings import make_settings as make_settings
from fleetstats.study.settings import Settings as Settings
from fleetstats.study.study import read_study as read_study
from fleetstats.survival.change.scan import scan_change as scan_change
from fleetstats.survival.change.shares import month_edges as month_edges
from fleetstats.survival.change.shares import month_shares as month_shares
from fleetstats.survival.change.shares import Lines as CalendarLines
from fleetstats.survival.counting.ageing import estimate_ageing as estimate_ageing
from fleetstats.survival.counting.capture import estimate_unseen as estimate_unseen
from fleetstats.survival.counting.count_law import CountLaw as CountLaw
from fleetstats.survival.counting.count_law import negative_binomial_law as negative_binomial_law
from fleetstats.survival.counting.count_law import poisson_law as poisson_law
from fleetstats.survival.counting.entry_check import drop_settling as drop_settling
from fleetstats.survival.counting.entry_check import estimate_entry_check as estimate_entry_check
from fleetstats.survival.counting.exposure import estimate_exposure as estimate_exposure
from fleetstats.survival.counting.exposure import poisson_limits as poisson_limits
from fleetstats.survival.counting.incidence import estimate_incidence as estimate_incidence
from fleetstats.survival.counting.incidence import estimate_outer_band as estimate_outer_band
from fleetstats.survival.counting.plotting import estimate_median_ranks as estimate_median_ranks
from fleetstats.survival.counting.plotting import estimate_plot_points as estimate_plot_points
from fleetstats.survival.counting.plotting import estimate_rank_line as estimate_rank_line
from fleetstats.survival.counting.product_limit import (
    estimate_cumulative_hazard as estimate_cumulative_hazard,
)
from fleetstats.survival.counting.product_limit import (
    estimate_product_limit as estimate_product_limit,
)
from fleetstats.survival.counting.rank_limits import estimate_rank_limits as estimate_rank_limits
from fleetstats.survival.counting.simultaneous import (
    estimate_simultaneous_band as estimate_simultaneous_band,
)
from fleetstats.survival.counting.turnbull import estimate_turnbull as estimate_turnbull
from fleetstats.survival.counting.turnbull_limits import (
    estimate_turnbull_limits as estimate_turnbull_limits,
)
from fleetstats.survival.delay.delay import CheckLives as CheckLives
from fleetstats.survival.delay.delay import DelayModel as DelayModel
from fleetstats.survival.delay.delay_fit import fit_delay as fit_delay
from fleetstats.survival.delay.delay_profile import DelayPrior as DelayPrior
from fleetstats.survival.families.curve_check import check_curve as check_curve
from fleetstats.survival.families.families import fit_families as fit_families
from fleetstats.survival.families.family_fits import fit_family as fit_family
from fleetstats.survival.families.goodness import check_goodness as check_goodness
from fleetstats.survival.groups.between import fit_between as fit_between
from fleetstats.survival.groups.causes import count_as as count_as
from fleetstats.survival.groups.causes import fit_causes as fit_causes
from fleetstats.survival.groups.causes import parametric_incidence as parametric_incidence
from fleetstats.survival.groups.causes import reliability_of_all as reliability_of_all
from fleetstats.survival.groups.clusters import resample_clusters as resample_clusters
from fleetstats.survival.groups.equal_ages import compare_equal_ages as compare_equal_ages
from fleetstats.survival.groups.groups import compare_groups as compare_groups
from fleetstats.survival.groups.growth import estimate_growth as estimate_growth
from fleetstats.survival.groups.pooling import compare_scales as compare_scales
from fleetstats.survival.groups.rate_ratio import compare_rates as compare_rates
from fleetstats.survival.groups.rate_ratio import false_discovery as false_discovery
from fleetstats.survival.groups.rate_ratio import hold_over as hold_over
from fleetstats.survival.groups.to_tell import failures_to_tell as failures_to_tell
from fleetstats.survival.recurrent.power_law import fit_power_law as fit_power_law
from fleetstats.survival.recurrent.recurrent import (
    estimate_mean_cumulative as estimate_mean_cumulative,
)
from fleetstats.survival.recurrent.recurrent import worst_engines as worst_engines
from fleetstats.survival.recurrent.trend import estimate_trend as estimate_trend
from fleetstats.survival.regression.at_values import quote_at as estimate_at_covariates
from fleetstats.survival.regression.covariates import build_covariates as build_covariates
from fleetstats.survival.regression.known_shape import life_at_shape as life_at_shape
from fleetstats.survival.regression.known_shape import compare_level as compare_at_shape
from fleetstats.survival.regression.mixed_trend import Readings as Readings
from fleetstats.survival.regression.mixed_trend import fit_mixed_trend as fit_mixed_trend
from fleetstats.survival.regression.proportional import fit_proportional as fit_proportional
from fleetstats.survival.regression.regression import fit_accelerated as fit_accelerated
from fleetstats.survival.regression.stratified import fit_stratified as fit_stratified
from fleetstats.survival.second_opinion import second_opinions as second_opinions
from fleetstats.survival.stress.field_lives import FieldLives as FieldLives
from fleetstats.survival.stress.stress_bands import levels_agree as check_stress_law
from fleetstats.survival.stress.stress_bands import limits_life as stress_life_limits
from fleetstats.survival.stress.stress_bands import limits_margin as stress_margin_limits
from fleetstats.survival.stress.stress_bands import limits_ratio as stress_ratio_limits
from fleetstats.survival.stress.stress_life import StressRuns as StressRuns
from fleetstats.survival.stress.stress_life import fit_stress_life as fit_stress_life
from fleetstats.survival.stress.stress_parameters import (
    limits_parameters as stress_parameter_limits,
)
from fleetstats.survival.stress.two_stress import TwoStressRuns as TwoStressRuns
from fleetstats.survival.stress.two_stress import fit_two_stress as fit_two_stress
from fleetstats.survival.stress.two_stress_at import quote_two_stress as quote_two_stress
from fleetstats.survival.weibull.fit_weibull import fit_weibull as fit_weibull
from fleetstats.survival.weibull.fit_weibull import weibull_log_likelihood as weibull_log_likelihood
from fleetstats.survival.weibull.joint_region import estimate_joint_region as estimate_joint_region

__version__: str
__all__ = [
    "ArgumentError",
    "Band",
    "BandError",
    "CalendarLines",
    "CheckLives",
    "CountLaw",
    "DataError",
    "DelayModel",
    "DelayPrior",
    "Event",
    "FieldLives",
    "FitError",
    "FleetstatsError",
    "Histories",
    "Interval",
    "LifePrior",
    "NoMaximum",
    "Quantity",
    "Readings",
    "RunningEngine",
    "SettingError",
    "Settings",
    "ShapePrior",
    "SpellError",
    "Spells",
    "StressRuns",
    "TwoStressRuns",
    "advise",
    "advise_claim",
    "advise_hours",
    "analyse",
    "audit_records",
    "band",
    "band_curve",
    "band_whole_curve",
    "build_covariates",
    "build_spells",
    "check_curve",
    "check_goodness",
    "check_stress_law",
    "claim",
    "compare_at_shape",
    "compare_equal_ages",
    "compare_groups",
    "compare_rates",
    "compare_scales",
    "compose_report",
    "count_as",
    "drop_settling",
    "estimate_ageing",
    "estimate_at_covariates",
    "estimate_cumulative_hazard",
    "estimate_entry_check",
    "estimate_exposure",
    "estimate_growth",
    "estimate_incidence",
    "estimate_joint_region",
    "estimate_mean_cumulative",
    "estimate_median_ranks",
    "estimate_outer_band",
    "estimate_plot_points",
    "estimate_product_limit",
    "estimate_rank_limits",
    "estimate_rank_line",
    "estimate_simultaneous_band",
    "estimate_trend",
    "estimate_turnbull",
    "estimate_turnbull_limits",
    "estimate_unseen",
    "failures_to_tell",
    "false_discovery",
    "find_running",
    "fit_accelerated",
    "fit_between",
    "fit_causes",
    "fit_delay",
    "fit_families",
    "fit_family",
    "fit_mixed_trend",
    "fit_posterior",
    "fit_power_law",
    "fit_proportional",
    "fit_stratified",
    "fit_stress_life",
    "fit_two_stress",
    "fit_weibull",
    "forecast_fleet",
    "has_practical_optimum",
    "hold_over",
    "life_at_shape",
    "look_ahead",
    "make_settings",
    "merge_returns",
    "month_edges",
    "month_shares",
    "negative_binomial_law",
    "optimum_age",
    "parametric_incidence",
    "plan",
    "plan_evidence",
    "poisson_law",
    "poisson_limits",
    "posterior_interval",
    "predict_count",
    "propose_mends",
    "quote",
    "quote_two_stress",
    "read_records",
    "read_study",
    "reliability_of_all",
    "resample_clusters",
    "resample_fits",
    "scan_change",
    "second_opinions",
    "stress_life_limits",
    "stress_margin_limits",
    "stress_parameter_limits",
    "stress_ratio_limits",
    "success_run",
    "take_mends",
    "walk_advice",
    "watch_fleet",
    "weibull_log_likelihood",
    "worst_engines",
    "write_report",
]
