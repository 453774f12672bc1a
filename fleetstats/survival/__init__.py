"""Floor 3: what the lives look like. Estimators and fitted families."""

from fleetstats.survival.counting.exposure import ExposureTable, estimate_exposure
from fleetstats.survival.counting.incidence import (
    Incidence,
    OuterBand,
    estimate_incidence,
    estimate_outer_band,
)
from fleetstats.survival.counting.plotting import PlotPoints, estimate_plot_points
from fleetstats.survival.counting.product_limit import (
    HazardCurve,
    StepCurve,
    estimate_cumulative_hazard,
    estimate_product_limit,
)
from fleetstats.survival.counting.turnbull import TurnbullCurve, estimate_turnbull
from fleetstats.survival.counting.turnbull_limits import TurnbullLimits, estimate_turnbull_limits
from fleetstats.survival.families.families import FAMILIES, Comparison, fit_families, fit_family
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion, second_opinions
from fleetstats.survival.weibull.fit_weibull import (
    fit_weibull,
    solve_weibull,
    weibull_log_likelihood,
)

__all__ = [
    "FAMILIES",
    "Comparison",
    "ExposureTable",
    "Fit",
    "HazardCurve",
    "Incidence",
    "Opinion",
    "OuterBand",
    "PlotPoints",
    "StepCurve",
    "TurnbullCurve",
    "TurnbullLimits",
    "estimate_cumulative_hazard",
    "estimate_exposure",
    "estimate_incidence",
    "estimate_outer_band",
    "estimate_plot_points",
    "estimate_product_limit",
    "estimate_turnbull",
    "estimate_turnbull_limits",
    "fit_families",
    "fit_family",
    "fit_weibull",
    "second_opinions",
    "solve_weibull",
    "weibull_log_likelihood",
]
