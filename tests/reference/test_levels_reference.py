"""Effects of levels against lifelines and exact tables: accelerated life, strata, known shapes."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from fleetstats.spells import Spells
from fleetstats.survival.groups.rate_ratio import compare_rates
from fleetstats.survival.regression.at_values import quote_at
from fleetstats.survival.regression.covariates import build_covariates, commonest
from fleetstats.survival.regression.known_shape import compare_level, life_at_shape, power_hours
from fleetstats.survival.regression.regression import fit_accelerated
from fleetstats.survival.regression.stratified import fit_stratified


def fleet(seed=1, n=240, fail=1.0):
    """Return lives in three uses and two fuels, a third entering late; truth: towing 0.6."""
    rng = np.random.default_rng(seed)
    use = rng.choice(["school", "touring", "towing"], n, p=[0.5, 0.2, 0.3])
    fuel = rng.choice(["leaded", "unleaded"], n)
    life = 2000.0 * np.where(use == "towing", 0.6, 1.0) * rng.weibull(2.5, n)
    entry = rng.uniform(0, 600, n) * (rng.random(n) < 0.33)
    stop = rng.uniform(600, 2500, n) * fail
    keep = (life > entry) & (stop > entry)
    failed = life <= stop
    spells = Spells.of(entry[keep], np.minimum(life, stop)[keep], failed[keep])
    return spells, {"use": use[keep], "fuel": fuel[keep]}


def frame(spells, labels, reference):
    table = pd.DataFrame(
        {"t": spells.exit_upper, "e": spells.failed.astype(int), "entry": spells.entry}
    )
    for column, words in labels.items():
        for level in sorted(set(words) - {reference[column]}):
            table[f"{column}: {level} v {reference[column]}"] = (words == level).astype(float)
    return table


@pytest.mark.parametrize("seed", [1, 2])
def test_accelerated_life_agrees_with_lifelines(seed):
    lifelines = pytest.importorskip("lifelines")
    spells, labels = fleet(seed)
    design = build_covariates(spells, {}, labels=labels)
    ours = fit_accelerated(spells, design)
    reference = {c: commonest(spells, w) for c, w in labels.items()}
    told = lifelines.WeibullAFTFitter().fit(
        frame(spells, labels, reference), "t", "e", entry_col="entry"
    )
    for f in ours.factors:
        assert f.coef == pytest.approx(told.params_["lambda_", f.name], abs=2e-4)
        assert f.std_error == pytest.approx(told.standard_errors_["lambda_", f.name], rel=5e-3)
    assert ours.shape == pytest.approx(math.exp(told.params_["rho_", "Intercept"]), rel=5e-4)
    assert ours.log_likelihood == pytest.approx(told.log_likelihood_, abs=1e-3)
    # life at values: the same law asked by the library
    at = pd.DataFrame([dict.fromkeys(design.names, 0.0)])
    asked = np.zeros(len(design.names))
    j = next(i for i, n in enumerate(design.names) if n.startswith("use: towing"))
    at[design.names[j]], asked[j] = 1.0, 1.0
    law = quote_at(spells, design, asked, labels["use"] == "towing", shares=(0.1,), ages_h=(800.0,))
    b10 = float(told.predict_percentile(at, p=0.9).iloc[0])
    assert law.lives[0].life_h.estimate == pytest.approx(b10, rel=1e-3)
    kept = float(told.predict_survival_function(at, times=[800.0]).iloc[0, 0])
    assert law.ages[0].reliability.estimate == pytest.approx(kept, abs=5e-4)


@pytest.mark.parametrize("seed", [1, 2])
def test_hazard_ratios_within_strata_agree_with_lifelines(seed):
    lifelines = pytest.importorskip("lifelines")
    spells, labels = fleet(seed)
    end = np.ceil(spells.exit_upper)  # so that ages are tied
    spells = spells.replace(exit_lower=end, exit_upper=end)
    design = build_covariates(spells, {}, labels={"use": labels["use"]})
    ours = fit_stratified(spells, design, labels["fuel"])
    reference = {"use": commonest(spells, labels["use"])}
    table = frame(spells, {"use": labels["use"]}, reference).assign(fuel=labels["fuel"])
    sharp = {"precision": 1e-13, "r_precision": 1e-14}  # else it stops up to 1e-4 short
    told = lifelines.CoxPHFitter().fit(
        table, "t", "e", entry_col="entry", strata=["fuel"], fit_options=sharp
    )
    assert ours.strata == ("leaded", "unleaded")
    for r in ours.ratios:
        assert r.coef == pytest.approx(told.params_[r.name], abs=1e-5)
        assert r.std_error == pytest.approx(told.standard_errors_[r.name], rel=1e-4)
    assert ours.log_likelihood == pytest.approx(told.log_likelihood_, abs=1e-6)


def few(spells, labels, n):
    failed = np.zeros(len(spells), dtype=bool)
    failed[np.flatnonzero(spells.failed)[:n]] = True
    return Spells.of(spells.entry, spells.exit_upper, failed), labels


@pytest.mark.parametrize("shape", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("level_word", ["towing", "touring"])
def test_one_stratum_is_the_exact_comparison_of_two_rates(shape, level_word):
    """Przyborowski & Wilenski 1940 by `compare_rates`, and scipy's own binomial limits."""
    spells, labels = few(*fleet(3), 4)
    use = labels["use"]
    got = compare_level(
        spells, use, np.full(len(use), "all"), name="x", level_word=level_word,
        reference="school", shape=shape,
    )  # fmt: skip
    hours = power_hours(spells, shape, spells.oldest_h)
    d, d0 = (int(spells.failed[use == w].sum()) for w in (level_word, "school"))
    e, e0 = (float(hours[use == w].sum()) for w in (level_word, "school"))
    want = compare_rates(d, e, d0, e0)
    for mine, theirs in ((got.ratio_low, want.low), (got.ratio_high, want.high)):
        assert mine is None if not theirs or math.isinf(theirs) else mine == pytest.approx(theirs)
    if d and d0:
        ci = stats.binomtest(d, d + d0).proportion_ci(0.90, method="exact")
        assert got.ratio_high == pytest.approx(ci.high / (1 - ci.high) * e0 / e, rel=1e-6)
        assert got.low == pytest.approx(got.ratio_high ** (-1 / shape))
        assert got.ratio == pytest.approx(d / d0 * e0 / e)


def test_strata_tails_are_those_of_all_outcomes_counted_out():
    """Three strata of 2, 1 and 3 failures: each way they can fall is weighed by hand."""
    from fleetstats.survival.regression.known_shape import _exact_ratio

    tables = [(1.0, 1.0, 2.0, 5.0), (0.0, 1.0, 1.0, 1.0), (2.0, 1.0, 4.0, 3.0)]
    _, low, high = _exact_ratio(tables, 0.90)

    def chances(ratio):
        out = np.zeros(7)
        shares = [ratio * e / (ratio * e + e0) for _, _, e, e0 in tables]
        for i in range(3):
            for j in range(2):
                for k in range(4):
                    out[i + j + k] += (
                        stats.binom.pmf(i, 2, shares[0])
                        * stats.binom.pmf(j, 1, shares[1])
                        * stats.binom.pmf(k, 3, shares[2])
                    )
        return out

    assert chances(low)[3:].sum() == pytest.approx(0.05, abs=1e-9)
    assert chances(high)[:4].sum() == pytest.approx(0.05, abs=1e-9)


def test_no_failure_in_a_level_gives_one_limit_and_at_a_known_shape_the_exact_one():
    """With the shape held by many other failures the profile's limit nears the exact one."""
    spells, labels = fleet(5, n=2500)
    none = spells.failed & (labels["use"] != "touring")
    spells = Spells.of(spells.entry, spells.exit_upper, none)
    design = build_covariates(spells, {}, labels={"use": labels["use"]})
    fit = fit_accelerated(spells, design)
    bare = next(f for f in fit.factors if f.name.startswith("use: touring"))
    assert (bare.factor, bare.high) == (None, None)
    exact = compare_level(
        spells, labels["use"], np.full(len(none), ""), name="x", level_word="touring",
        reference=commonest(spells, labels["use"]), shape=fit.shape,
    )  # fmt: skip
    assert exact.high is None
    assert exact.factor is None
    assert bare.low == pytest.approx(exact.low, rel=0.02)
    asked = np.array([float(n.startswith("use: touring")) for n in design.names])
    touring = labels["use"] == "touring"
    law = quote_at(spells, design, asked, touring, shares=(0.1,), ages_h=(900.0,))
    alone = life_at_shape(spells.select(touring), 0.1, shape=fit.shape, level=0.9, ages_h=(900.0,))
    assert law.one_sided
    assert (law.lives[0].life_h.estimate, law.lives[0].life_h.high) == (None, None)
    # Garwood (1936): -log(0.05) failures at most
    assert law.lives[0].life_h.low == pytest.approx(alone.low_h, rel=0.02)
    assert law.ages[0].reliability.low == pytest.approx(alone.ages[0].reliability.low, abs=2e-3)
    assert law.ages[0].hazard_per_h.high == pytest.approx(alone.ages[0].hazard_per_h.high, rel=0.05)


def test_life_and_reliability_at_values_are_one_answer_asked_two_ways():
    spells, labels = fleet(7)
    design = build_covariates(spells, {}, labels=labels)
    asked = np.array([1.0, 0.0, 1.0])
    like = np.ones(len(spells), dtype=bool)
    life = quote_at(spells, design, asked, like, shares=(0.2,), ages_h=()).lives[0].life_h
    for name, mirror in (("estimate", "estimate"), ("low", "low"), ("high", "high")):
        hours = getattr(life, name)
        (age,) = quote_at(spells, design, asked, like, shares=(), ages_h=(hours,)).ages
        assert getattr(age.reliability, mirror) == pytest.approx(0.8, abs=1e-5)
