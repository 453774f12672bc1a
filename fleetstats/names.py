"""The public names by group, in the order of work: name here, module below the package.

`module:attribute` stands where the name that is plain in its own room would not be plain at the
front door. A thing has one public name.
"""

from __future__ import annotations

RETIRED: dict[str, tuple[str, str, str]] = {}
"""Name that is to go: the name in its place, the version that says so, and the one without it.

What stays, and for how long a retired name works, is promised in DEVELOPERS.md.
"""

GROUPS: dict[str, dict[str, str]] = {
    "A study from its folder": {
        "read_study": "study.study",
        "Settings": "study.settings",
        "make_settings": "study.made.made_settings",
        "analyse": "studies.analyse",
        "compose_report": "chapters.compose",
        "write_report": "report.write",
        "walk_advice": "studies.compare.attribution",
        "watch_fleet": "studies.watch.compute",
    },
    "Records, audit, mends": {
        "read_records": "records.readers",
        "audit_records": "records.audit.audit",
        "propose_mends": "records.mending.propose",
        "take_mends": "records.mending.take",
        "merge_returns": "records.merging.merge",
    },
    "Lives and histories": {
        "build_spells": "spells.build",
        "Spells": "spells.spells",
        "Event": "spells.event",
        "Histories": "spells.histories",
        "count_as": "survival.groups.causes",
        "drop_settling": "survival.counting.entry_check",
    },
    "Estimates without a law of life": {
        "estimate_product_limit": "survival.counting.product_limit",
        "estimate_cumulative_hazard": "survival.counting.product_limit",
        "estimate_simultaneous_band": "survival.counting.simultaneous",
        "estimate_turnbull": "survival.counting.turnbull",
        "estimate_turnbull_limits": "survival.counting.turnbull_limits",
        "estimate_incidence": "survival.counting.incidence",
        "estimate_outer_band": "survival.counting.incidence",
        "estimate_exposure": "survival.counting.exposure",
        "poisson_limits": "survival.counting.exposure",
        "estimate_median_ranks": "survival.counting.plotting",
        "estimate_rank_limits": "survival.counting.rank_limits",
        "estimate_rank_line": "survival.counting.plotting",
        "estimate_plot_points": "survival.counting.plotting",
        "estimate_ageing": "survival.counting.ageing",
        "estimate_entry_check": "survival.counting.entry_check",
    },
    "Fits": {
        "fit_weibull": "survival.weibull.fit_weibull",
        "weibull_log_likelihood": "survival.weibull.fit_weibull",
        "fit_family": "survival.families.family_fits",
        "fit_families": "survival.families.families",
        "check_goodness": "survival.families.goodness",
        "check_curve": "survival.families.curve_check",
        "second_opinions": "survival.second_opinion",
    },
    "Bands": {
        "Quantity": "bands.quantity",
        "Interval": "bands.interval",
        "Band": "bands.interval",
        "band": "bands.choose",
        "band_curve": "bands.choose",
        "band_whole_curve": "bands.whole_curve",
        "estimate_joint_region": "survival.weibull.joint_region",
        "fit_posterior": "bands.bayes.posterior",
        "posterior_interval": "bands.bayes.posterior",
        "ShapePrior": "bands.bayes.prior",
        "LifePrior": "bands.bayes.posterior",
        "resample_fits": "bands.resampling.refit:refit",
        "resample_clusters": "survival.groups.clusters",
    },
    "Causes": {
        "fit_causes": "survival.groups.causes",
        "reliability_of_all": "survival.groups.causes",
        "parametric_incidence": "survival.groups.causes",
    },
    "Groups, pooling, growth": {
        "compare_groups": "survival.groups.groups",
        "compare_scales": "survival.groups.pooling",
        "compare_rates": "survival.groups.rate_ratio",
        "compare_equal_ages": "survival.groups.equal_ages",
        "fit_between": "survival.groups.between",
        "estimate_growth": "survival.groups.growth",
        "failures_to_tell": "survival.groups.to_tell",
    },
    "Regression": {
        "build_covariates": "survival.regression.covariates",
        "fit_accelerated": "survival.regression.regression",
        "fit_proportional": "survival.regression.proportional",
        "fit_stratified": "survival.regression.stratified",
        "estimate_at_covariates": "survival.regression.at_values:quote_at",
        "compare_at_shape": "survival.regression.known_shape:compare_level",
        "life_at_shape": "survival.regression.known_shape",
    },
    "Bench: life at a stress": {
        "StressRuns": "survival.stress.stress_life",
        "FieldLives": "survival.stress.field_lives",
        "fit_stress_life": "survival.stress.stress_life",
        "stress_life_limits": "survival.stress.stress_bands:limits_life",
        "stress_parameter_limits": "survival.stress.stress_parameters:limits_parameters",
        "stress_margin_limits": "survival.stress.stress_bands:limits_margin",
        "stress_ratio_limits": "survival.stress.stress_bands:limits_ratio",
        "TwoStressRuns": "survival.stress.two_stress",
        "fit_two_stress": "survival.stress.two_stress",
        "quote_two_stress": "survival.stress.two_stress_at",
        "check_stress_law": "survival.stress.stress_bands:levels_agree",
    },
    "Events that come again": {
        "estimate_mean_cumulative": "survival.recurrent.recurrent",
        "worst_engines": "survival.recurrent.recurrent",
        "fit_power_law": "survival.recurrent.power_law",
        "estimate_trend": "survival.recurrent.trend",
        "predict_count": "chapters.recurrence.ahead",
    },
    "A change on a date": {
        "CalendarLines": "survival.change.shares:Lines",
        "month_edges": "survival.change.shares",
        "month_shares": "survival.change.shares",
        "scan_change": "survival.change.scan",
    },
    "Checks and readings": {
        "CheckLives": "survival.delay.delay",
        "DelayModel": "survival.delay.delay",
        "DelayPrior": "survival.delay.delay_profile",
        "fit_delay": "survival.delay.delay_fit",
        "Readings": "survival.regression.mixed_trend",
        "fit_mixed_trend": "survival.regression.mixed_trend",
    },
    "What comes": {
        "RunningEngine": "spells.running",
        "look_ahead": "chapters.ahead.outlook",
        "forecast_fleet": "chapters.ahead.forecast",
        "CountLaw": "survival.counting.count_law",
        "poisson_law": "survival.counting.count_law",
        "negative_binomial_law": "survival.counting.count_law",
    },
    "Advice, claim, plan": {
        "advise": "studies.from_lives",
        "claim": "studies.from_lives",
        "plan": "studies.from_lives",
        "advise_hours": "advice.advise",
        "advise_claim": "chapters.claim.compute",
        "plan_evidence": "chapters.plan.compute",
        "success_run": "advice.success_run",
        "optimum_age": "advice.cost.rates",
        "has_practical_optimum": "advice.cost.rates",
    },
    "Errors": {
        "FleetstatsError": "core.errors",
        "ArgumentError": "core.errors",
        "SettingError": "core.errors",
        "DataError": "core.errors",
        "SpellError": "core.errors",
        "FitError": "core.errors",
        "NoMaximum": "core.errors",
        "BandError": "core.errors",
    },
}
"""Title of a group: its names, each with the module that it is loaded from."""
