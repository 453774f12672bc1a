"""What the package makes of each case of the selftest, by the names that the cases use."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import numpy as np

from fleetstats.advice.cost.rates import cost_rate, optimum_age
from fleetstats.advice.equivalents import failure_bound, life_equivalents, poisson_allowance
from fleetstats.advice.success_run import success_run
from fleetstats.bands.likelihood.profile import band_quantity
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
from fleetstats.selftest.cases import (
    never_failed,
    numbers,
    one_cause,
    single_system,
    spells,
    three_systems,
    valve_seats,
)
from fleetstats.spells import Spells
from fleetstats.spells.histories import Histories
from fleetstats.survival import (
    estimate_cumulative_hazard,
    estimate_incidence,
    estimate_product_limit,
    estimate_turnbull,
    fit_family,
    fit_weibull,
)
from fleetstats.survival.counting.exposure import poisson_limits
from fleetstats.survival.counting.plotting import estimate_rank_line
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.regression.covariates import Covariates, build_covariates
from fleetstats.survival.regression.proportional import fit_proportional
from fleetstats.survival.regression.regression import fit_accelerated

Figures = dict[str, float]


def _weibull(lives: Spells) -> Figures:
    """Return a Weibull fit, and profile limits of its shape and B10 life."""
    fit = fit_weibull(lives)
    out = {
        "shape": fit.shape,
        "scale": fit.scale_h,
        "loglik": fit.log_likelihood,
        "B10": float(fit.quantile(0.10)),
        "se_shape": fit.std_error("shape"),
    }
    for name, what in (("shape", Quantity.shape()), ("B10", Quantity.life(0.10))):
        for level in (90, 95):
            limits = band_quantity(fit, what, level=level / 100)
            for side, x in (("lower", limits.low), ("upper", limits.high)):
                if x is not None:
                    out[f"{name}_profile_{side}{level}"] = x
    return out


def _families(lives: Spells) -> Figures:
    out: Figures = {}
    for family in ("lognormal", "loglogistic", "gamma"):
        fit = fit_family(lives, family)
        out |= {f"{family}_loglik": fit.log_likelihood, f"{family}_AICc": fit.aicc}
    return out


def _curves(lives: Spells, ages: tuple[int, ...]) -> Figures:
    """Return the product limit and the cumulative hazard, counted from new."""
    curve = estimate_product_limit(lives, level=0.95, least_at_risk=1)
    hazard = estimate_cumulative_hazard(lives, least_at_risk=1)
    out: Figures = {}
    for t in ages:
        low, high = curve.limits_at(t)
        out |= {
            f"at{t}_S": float(curve.at(t)),
            f"at{t}_greenwood_se": float(curve.std_error_at(t)),
            f"at{t}_loglog_lower95": float(low),
            f"at{t}_loglog_upper95": float(high),
            f"at{t}_nelson_aalen": float(hazard.at(t)),
        }
    return out


def _turnbull_of_cosmesis() -> Figures:
    curve = estimate_turnbull(spells("cosmesis_1"))
    shares = {f"S({t})": float(curve.at(t)) for t in (10, 20, 30, 40)}
    return {"loglik": curve.log_likelihood} | shares


def _turnbull_of_wheels() -> Figures:
    curve = estimate_turnbull(spells("turbine_wheels"))
    return {f"F({t})": 1.0 - float(curve.at(t)) for t in (1000, 1800, 2600)}


def _incidence() -> Figures:
    lives = spells("shock_absorber")
    table = estimate_incidence(lives, lives.cause)
    out: Figures = {}
    for mode in ("mode1", "mode2"):
        for t in (13150, 27490):
            out[f"CIF_{mode}({t})"] = float(table.at(mode, t))
            out[f"CIF_{mode}({t})_se_delta"] = float(table.std_error_at(mode, t))
    return out


def _modes() -> Figures:
    lives = spells("shock_absorber")
    every = fit_weibull(lives)
    first = fit_weibull(one_cause(lives, "mode1"))
    return {
        "any_shape": every.shape,
        "any_scale": every.scale_h,
        "mode1_shape": first.shape,
        "mode1_scale": first.scale_h,
    }


def _mean_cumulative() -> Figures:
    curve = estimate_mean_cumulative(
        valve_seats("more/valve_seat_units.csv", "id", "days"), level=0.95
    )
    out: Figures = {}
    for age in (200, 400, 646):
        t = float(age)
        mean, error, (low, high) = curve.at(t), curve.std_error_at(t), curve.limits_at(t)
        out |= {
            f"at{age}_mcf": float(mean),
            f"at{age}_robust_se": float(error),
            f"at{age}_log_lower95": float(low),
            f"at{age}_log_upper95": float(high),
        }
    return out


def _power_law(histories: Histories) -> Figures:
    fit = fit_power_law(histories, level=0.90)
    pairs = {
        "shape": fit.shape,
        "lam": fit.lam,
        "lam_per_system": fit.lam,
        "loglik": fit.log_likelihood,
        "shape_unbiased": fit.shape_unbiased,
        "cramer_von_mises": fit.cramer_von_mises,
        "intensity_at_end": fit.intensity_at_end,
        "mtbf_at_end": fit.mtbf_at_end_h,
        "modified_lam": fit.lam_modified,
        "modified_mtbf_at_end": fit.mtbf_modified_h,
        "shape_exact_lower90": fit.shape_low,
        "shape_exact_upper90": fit.shape_high,
    }
    return {k: float(x) for k, x in pairs.items() if x is not None}


def _accelerated() -> Figures:
    t = numbers("more/insulating_fluid.csv")
    lives = Spells.of(np.zeros(len(t["minutes"])), t["minutes"], np.ones(len(t["minutes"])))
    x = np.column_stack([np.ones(len(t["kV"])), np.log(t["kV"])])
    fit = solve_accelerated(Problem.of(lives), x)
    return {
        "intercept": float(fit.coef[0]),
        "ln_kV": float(fit.coef[1]),
        "shape": float(fit.shape),
        "loglik": float(fit.log_likelihood),
    }


def _remissions() -> tuple[Spells, Covariates]:
    t = numbers("more/gehan.csv")
    lives = Spells.of(np.zeros(len(t["weeks"])), t["weeks"], t["relapse"] == 1)
    return lives, build_covariates(lives, {"treated": t["treated"]})


def _treated() -> Spells:
    lives, _ = _remissions()
    return lives.select(numbers("more/gehan.csv")["treated"] == 1)


def _proportional() -> Figures:
    out: Figures = {}
    for ties in ("efron", "breslow"):
        fit = fit_proportional(*_remissions(), ties=ties)
        out |= {
            f"{ties}_coef_treated": fit.ratios[0].coef,
            f"{ties}_se_treated": fit.ratios[0].std_error,
            f"{ties}_loglik": fit.log_likelihood,
            f"{ties}_loglik_null": fit.log_likelihood_without,
        }
    return out


def _life_factor() -> Figures:
    fit = fit_accelerated(*_remissions())
    factor = fit.factors[0]
    pairs = {
        "treated": factor.coef,
        "se_treated": factor.std_error,
        "sigma": 1.0 / fit.shape,
        "shape": fit.shape,
        "loglik": fit.log_likelihood,
    }
    return {k: float(x) for k, x in pairs.items() if x is not None}


def _ranks() -> Figures:
    line = estimate_rank_line(
        spells("nist_ten_of_twenty"), method="exact", direction="hours-on-rank"
    )
    return {"exact_shape_hours_on_rank": line.shape, "exact_scale_hours_on_rank": line.scale_h}


def _exact_bounds() -> Figures:
    out: Figures = {}
    for x in (0, 1, 4, 12):
        low, high = poisson_limits(x, level=0.90)
        out[f"poisson_upper90_x{x}"] = float(high)
        if x:
            out[f"poisson_lower90_x{x}"] = float(low)
    for failed, n in ((0, 30), (1, 30), (3, 100)):
        ages = np.where(np.arange(n) < failed, 500.0, 1300.0)
        settled = Settled.of_spells(Spells.of(0, ages, ages < 1000.0))
        high = settled.failure_high(np.array([1200.0]), 0.95)[0]
        out[f"clopper_pearson_upper90_{failed}of{n}"] = float(high)
    low, high = poisson_limits(2, level=0.90)
    out["mtbf_lower90_2_in_800h_time_terminated"] = 800.0 / float(high)
    out["mtbf_upper90_2_in_800h_time_terminated"] = 800.0 / float(low)
    return out


def _zero_failures() -> Figures:
    """Return bounds for ten lives of which none failed, and success runs."""
    out: Figures = {}
    for name, late in (("all_from_new", False), ("late_entry", True)):
        lives = never_failed(late=late)
        for shape in (1, 2, 3):
            n = life_equivalents(lives, shape, 1200.0)
            high = float(failure_bound(n, poisson_allowance(0, 0.95))[0])
            out[f"weibayes_{name}_shape{shape}_C0.95_R_lower"] = 1.0 - high
    for r, c in ((0.9, 0.9), (0.95, 0.95), (0.99, 0.9), (0.9, 0.95)):
        out[f"success_run_n_ceiling_R{r}_C{c}"] = float(success_run(r, c))
    for n_runs in (10, 59):
        settled = Settled.of_spells(Spells.of(0, np.full(n_runs, 1200.0), np.zeros(n_runs)))
        bound = settled.failure_high(np.array([1200.0]), 0.95)[0]
        out[f"R_lower95_from_{n_runs}_successes"] = 1.0 - float(bound)
    return out


def _age_replacement() -> Figures:
    out: Figures = {}
    for shape, ratio in ((2, 5), (3, 10)):
        age = float(optimum_age(shape, 1.0, ratio))
        out[f"shape{shape}_ratio{ratio}_best_age_over_scale"] = age
        rate = float(cost_rate(age, shape, 1.0, ratio))
        out[f"shape{shape}_ratio{ratio}_cost_rate_times_scale"] = rate
    return out


CASES: Mapping[str, tuple[str, Callable[[], Figures], str]] = {
    "nist-weibull-more": ("Weibull fit", lambda: _weibull(spells("nist_ten_of_twenty")),
                          "B10|.*profile.*90"),
    "cage-weibull-more": ("Weibull fit", lambda: _weibull(spells("bearing_cage_fleet")),
                          "loglik|B10_profile.*90"),
    "fan-weibull": ("Weibull fit", lambda: _weibull(spells("genfan")), "se_shape|B10_profile.*"),
    "late-fleet-a-weibull": ("Weibull fit, late entry",
                             lambda: _weibull(spells("late_fleet_a")),
                             "shape|scale|loglik|.*profile.*90"),
    "wheels-weibull": ("Weibull fit, seen once only", lambda: _weibull(spells("turbine_wheels")),
                       "shape|scale|loglik|B10_profile.*90"),
    "mixed-fleet-a": ("Weibull fit, all kinds of censoring",
                      lambda: _weibull(spells("mixed_fleet_a")),
                      "shape|scale|loglik|B10_profile.*90"),
    "shock-modes-weibull": ("Weibull fit, two causes", _modes, ".*"),
    "fan-families": ("other families", lambda: _families(spells("genfan")), ".*"),
    "late-fleet-a-km": ("product limit, late entry",
                        lambda: _curves(spells("late_fleet_a"), (600, 1200)), ".*"),
    "cage-km": ("product limit", lambda: _curves(spells("bearing_cage_fleet"), (1510,)), ".*"),
    "cosmesis-1-turnbull": ("interval estimate (Turnbull)", _turnbull_of_cosmesis, ".*"),
    "wheels-turnbull": ("interval estimate (Turnbull)", _turnbull_of_wheels, ".*"),
    "shock-modes-aj": ("incidence by cause", _incidence, ".*"),
    "nist-median-rank": ("median rank line", _ranks, ".*"),
    "valve-seat-mcf-more": ("mean cumulative function", _mean_cumulative, ".*"),
    "growth-milhdbk189": ("power law",
                          lambda: _power_law(single_system("growth_27_in_300h.csv", 300.0)),
                          "loglik|shape_exact.*"),
    "growth-nist": ("power law",
                    lambda: _power_law(single_system("growth_nist_1500h.csv", 1500.0)),
                    "shape|loglik"),
    "three-systems-power-law": ("power law", lambda: _power_law(three_systems()),
                                "loglik|shape_exact.*"),
    "fluid-aft": ("accelerated lives", _accelerated, ".*"),
    "gehan-cox": ("proportional hazards", _proportional, ".*_loglik.*"),
    "gehan-aft": ("accelerated lives, treated or not", _life_factor, "shape|loglik"),
    "gehan-6mp-km": ("product limit", lambda: _curves(_treated(), (6, 10, 13, 23)),
                     ".*loglog.*|.*nelson.*"),
    "exact-bounds": ("exact bounds", _exact_bounds, "(poisson|clopper).*"),
    "zero-failures": ("bounds without failure", _zero_failures, ".*"),
    "age-replacement-more": ("cheapest age", _age_replacement, ".*"),
}  # fmt: skip
"""Case: (what it tries, what makes its figures, which figures are held against values computed
elsewhere); those that its source prints are held against what is printed."""


def figures_of(name: str) -> Figures:
    """Return the package's own figures for one case, by the names of its values."""
    return CASES[name][1]()


def held_to_computed(name: str, quantity: str) -> bool:
    """Return whether a figure is held against the value computed elsewhere."""
    return re.fullmatch(CASES[name][2], quantity) is not None
