"""Regression against R (survreg, coxph) and against lifelines; sources stand in the cases."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from cases_support import expected, numbers, tolerance

from fleetstats.spells import Spells
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import fit_proportional, partial_log_likelihood
from fleetstats.survival.regression.regression import fit_accelerated


def solved(t: np.ndarray, failed: np.ndarray, *x: np.ndarray):
    spells = Spells.of(np.zeros(len(t)), t, failed)
    return solve_accelerated(Problem.of(spells), np.column_stack([np.ones(len(t)), *x]))


def test_insulating_fluid() -> None:
    want, rel = expected("fluid-aft"), tolerance("fluid-aft")
    t = numbers("more/insulating_fluid.csv")
    fit = solved(t["minutes"], np.ones(len(t["kV"])), np.log(t["kV"]))
    se = np.sqrt(np.diag(fit.covariance()))
    got = {
        "intercept": fit.coef[0],
        "ln_kV": fit.coef[1],
        "sigma": 1 / fit.shape,
        "shape": fit.shape,
        "loglik": fit.log_likelihood,
        "se_intercept": se[0],
        "se_ln_kV": se[1],
        "se_log_sigma": se[2],
        "B10_at_26kV": np.exp(fit.coef @ [1, np.log(26)]) * (-np.log(0.9)) ** (1 / fit.shape),
    }  # fmt: skip
    assert set(got) == set(want)
    for key, value in got.items():
        assert value == pytest.approx(want[key], rel=rel), key


def test_gehan() -> None:
    want, rel = expected("gehan-aft"), tolerance("gehan-aft")
    t = numbers("more/gehan.csv")
    fit = solved(t["weeks"], t["relapse"] == 1, t["treated"])
    se = np.sqrt(np.diag(fit.covariance()))
    got = [*fit.coef, 1 / fit.shape, fit.shape, fit.log_likelihood, *se]
    keys = ["intercept", "treated", "sigma", "shape", "loglik", "se_intercept", "se_treated",
            "se_log_sigma"]  # fmt: skip
    assert got == pytest.approx([want[k] for k in keys], rel=rel)


def test_gehan_proportional_hazards() -> None:
    want, rel = expected("gehan-cox"), tolerance("gehan-cox")
    t = numbers("more/gehan.csv")
    spells = Spells.of(np.zeros(len(t["weeks"])), t["weeks"], t["relapse"] == 1)
    fit = fit_proportional(spells, build_covariates(spells, {"treated": t["treated"]}))
    r = fit.ratios[0]
    assert r.coef == pytest.approx(want["efron_coef_treated"], rel=rel)
    assert r.std_error == pytest.approx(want["efron_se_treated"], rel=rel)
    assert fit.log_likelihood == pytest.approx(want["efron_loglik"], rel=rel)
    assert fit.log_likelihood_without == pytest.approx(want["efron_loglik_null"], rel=rel)


def test_veterans() -> None:
    want, rel = expected("veteran-aft"), tolerance("veteran-aft")
    t = numbers("veteran.csv")
    spells = Spells.of(np.zeros(len(t["time"])), t["time"], t["status"] == 1)
    x = build_covariates(spells, {"trt": t["trt"], "karno": t["karno"]})
    fit = fit_accelerated(spells, x)
    coef = want["aft_coef"]
    assert [f.coef for f in fit.factors] == pytest.approx([coef["trt"], coef["karno"]], rel=rel)
    assert 1 / fit.shape == pytest.approx(want["aft_sigma"], rel=rel)
    assert fit.log_likelihood == pytest.approx(want["aft_loglik"], rel=rel)
    # Covariates are centred here, so R's intercept is reached by taking the means back off.
    back = fit.intercept - sum(f.coef * c for f, c in zip(fit.factors, x.centre, strict=True))
    assert back == pytest.approx(coef["(Intercept)"], rel=rel)
    cox = fit_proportional(spells, x)
    assert [r.coef for r in cox.ratios] == pytest.approx(list(want["cox_coef"].values()), rel=rel)
    assert [r.std_error for r in cox.ratios] == pytest.approx(want["cox_se"], rel=rel)
    # Known of these data: the effect of the Karnofsky score fades (Therneau & Grambsch 2000, 6.2).
    assert cox.ratios[1].proportional_p < 0.01 < 0.1 < cox.ratios[0].proportional_p


def late_fleet(n: int, seed: int) -> tuple[Spells, np.ndarray]:
    rng = np.random.default_rng(seed)
    x = rng.normal(size=n)
    scale, shape = 2000.0 * np.exp(-0.3 * x), 2.2
    entry = np.where(rng.random(n) < 0.5, rng.uniform(0, 900, n), 0.0)
    life = scale * ((entry / scale) ** shape + rng.exponential(size=n)) ** (1 / shape)
    stop = entry + rng.uniform(200, 1800, n)
    return Spells.of(entry, np.minimum(life, stop), life <= stop), x


def test_late_entry_agrees_with_lifelines() -> None:
    import pandas as pd
    from lifelines import WeibullAFTFitter

    spells, x = late_fleet(300, 4)
    covariates = build_covariates(spells, {"x": x})
    ours = fit_accelerated(spells, covariates)
    frame = pd.DataFrame(
        {"x": covariates.values[:, 0], "entry": spells.entry, "t": spells.exit_upper,
         "d": spells.failed}
    )  # fmt: skip
    start = np.array([ours.factors[0].coef, ours.intercept, np.log(ours.shape)])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = WeibullAFTFitter().fit(
            frame, duration_col="t", event_col="d", entry_col="entry", initial_point=start
        )
    # lifelines stops at a gradient of about 1e-4, hence the tolerance.
    assert theirs.log_likelihood_ == pytest.approx(ours.log_likelihood, abs=1e-5)
    assert theirs.params_.loc[("lambda_", "x")] == pytest.approx(ours.factors[0].coef, abs=2e-3)
    assert np.exp(theirs.params_.loc[("rho_", "Intercept")]) == pytest.approx(ours.shape, rel=2e-3)


def test_late_entry_proportional_hazards_by_our_own_likelihood() -> None:
    """lifelines' fit maximises the partial likelihood written out here, ties and late entry too."""
    spells, x = late_fleet(150, 9)
    whole = np.maximum(np.ceil(spells.exit_upper / 100), 1) * 100
    rounded = Spells.of(
        np.minimum(np.floor(spells.entry / 100) * 100, whole - 100), whole, spells.failed
    )
    covariates = build_covariates(rounded, {"x": x})
    fit = fit_proportional(rounded, covariates)
    b = fit.ratios[0].coef

    def at(v: float) -> float:
        return partial_log_likelihood(rounded, covariates.values, np.array([v]))

    assert fit.log_likelihood == pytest.approx(at(b), rel=1e-10)
    assert at(b) > max(at(b - 1e-3), at(b + 1e-3))
