"""The band of a whole fitted curve, ties by Breslow, AIC and BIC, the spread of a count."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from fleetstats.bands.choose import band_curve
from fleetstats.bands.whole_curve import band_whole_curve
from fleetstats.core.errors import ArgumentError, BandError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival.counting.count_law import CountLaw, poisson_law
from fleetstats.survival.families.families import FAMILIES, fit_family
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import fit_proportional
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.joint_region import estimate_joint_region


def _fleet(rng: np.random.Generator) -> Spells:
    life = 1000.0 * rng.weibull(2.0, 60)
    seen = rng.uniform(300.0, 1800.0, 60)
    return Spells.of(0, np.minimum(life, seen), life <= seen)


def test_the_whole_band_is_the_extremes_over_the_joint_region() -> None:
    # the same region by another road, 96 rays: its extremes lie inside, and close
    fit = fit_weibull(_fleet(stream(2, "whole")))
    ages = np.array([200.0, 500.0, 1000.0, 1400.0])
    band = band_whole_curve(fit, "reliability", ages, level=0.90)
    edge = estimate_joint_region(fit, level=0.90)
    r = np.exp(-((ages[:, None] / edge.scale_h) ** edge.shape))
    assert band.low == pytest.approx(r.min(axis=1), abs=1e-3)
    assert band.high == pytest.approx(r.max(axis=1), abs=1e-3)


def test_the_whole_band_holds_at_all_ages_together() -> None:
    # 150 fleets; over all ages the band is the region itself: 90 %, error 2.4 %, three either way
    rng = stream(7, "whole curve of a Weibull")
    ages = np.geomspace(20.0, 2500.0, 25)
    truth = np.exp(-((ages / 1000.0) ** 2))
    held = 0
    for _ in range(150):
        band = band_whole_curve(fit_weibull(_fleet(rng)), "reliability", ages, level=0.90)
        held += bool(((band.low <= truth) & (truth <= band.high)).all())
    assert 0.90 - 0.074 < held / 150 < 0.90 + 0.074


def test_wrong_whole_bands_are_refused() -> None:
    lives = _fleet(stream(2, "whole"))
    with pytest.raises(ArgumentError, match=r"^level = 90"):
        band_whole_curve(fit_weibull(lives), "reliability", [500.0], level=90)


@pytest.mark.slow
def test_the_whole_band_of_a_lognormal_holds_at_all_ages_together() -> None:
    # as above, of lives drawn from a lognormal
    rng = stream(8, "whole curve of a lognormal")
    law, ages = stats.lognorm(0.6, scale=900.0), np.geomspace(60.0, 4000.0, 25)
    held = 0
    for _ in range(150):
        life, seen = 900.0 * np.exp(0.6 * rng.normal(size=60)), rng.uniform(300.0, 1800.0, 60)
        lives = Spells.of(0, np.minimum(life, seen), life <= seen)
        band = band_whole_curve(fit_family(lives, "lognormal"), "reliability", ages, level=0.90)
        held += bool(((band.low <= law.sf(ages)) & (law.sf(ages) <= band.high)).all())
    assert 0.90 - 0.074 < held / 150 < 0.90 + 0.074


SCIPY = {
    "lognormal": lambda p: stats.lognorm(p[1], scale=np.exp(p[0])),
    "loglogistic": lambda p: stats.fisk(p[1], scale=p[0]),
    "gamma": lambda p: stats.gamma(p[0], scale=p[1]),
    "exponential": lambda p: stats.expon(scale=p[0]),
    "smallest-extreme-value": lambda p: stats.gumbel_l(p[0], p[1]),
}  # fmt: skip


@pytest.mark.parametrize("family", sorted(set(FAMILIES) - {"weibull"}))
def test_the_whole_band_of_any_family_is_the_extremes_over_its_region(family: str) -> None:
    """By scipy's densities on a grid about the fit: no point of the region passes the band, and
    one comes close."""
    lives = _fleet(stream(2, "whole"))
    fit = fit_family(lives, family)
    ages = np.array([200.0, 700.0, 1300.0])
    band = band_whole_curve(fit, "reliability", ages, level=0.90)
    assert band.method == "whole-curve"
    spread = 3.2 * np.sqrt(np.diag(fit.covariance))
    axes = [np.linspace(-s, s, 81) for s in spread]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, len(spread)) + fit.estimate
    logged = [i for i, name in enumerate(fit.names) if name not in ("mu", "location_h")]
    points = points[(points[:, logged] > 0).all(axis=1)]
    law = SCIPY[family](points.T[:, :, None])
    t, failed = lives.exit_upper, lives.failed
    like = law.logpdf(t[failed]).sum(axis=1) + law.logsf(t[~failed]).sum(axis=1)
    best = SCIPY[family](fit.estimate)
    top = best.logpdf(t[failed]).sum() + best.logsf(t[~failed]).sum()
    inside = 2.0 * (top - like) <= stats.chi2.ppf(0.90, len(fit.estimate))
    assert inside.sum() > 40
    curves = law.sf(ages)[inside]
    assert (curves.min(axis=0) >= band.low - 1e-6).all()
    assert (curves.max(axis=0) <= band.high + 1e-6).all()
    assert curves.min(axis=0) == pytest.approx(band.low, abs=0.025)
    assert curves.max(axis=0) == pytest.approx(band.high, abs=0.025)
    point = band_curve(lives, fit, "reliability", ages, level=0.90)
    assert (band.low <= point.low + 1e-9).all()


def test_the_whole_band_of_a_hazard_and_of_a_chance_ahead() -> None:
    lives = _fleet(stream(2, "whole"))
    fit = fit_family(lives, "lognormal")
    for kind, width in (("hazard", 0.0), ("conditional", 50.0)):
        whole = band_whole_curve(fit, kind, [500.0, 900.0], width, level=0.90)
        point = band_curve(lives, fit, kind, [500.0, 900.0], width_h=width, level=0.90)
        assert (whole.low < point.low).all()
        assert (whole.high > point.high).all()
        assert whole.name == point.name


def test_a_family_of_three_parameters_is_refused_in_words() -> None:
    fit = fit_family(_fleet(stream(2, "whole")), "lognormal")
    three = replace(fit, names=("mu", "sigma", "threshold"))
    with pytest.raises(BandError, match=r"No band of a whole curve for a .*3 parameters"):
        band_whole_curve(three, "reliability", [500.0])


@pytest.mark.parametrize(
    ("ties", "coef", "std_error", "without", "best"),
    [
        ("efron", 0.338984813501, 0.713666362730, -14.922091016282, -14.809798968106),
        ("breslow", 0.315972603908, 0.712979743672, -15.384126475878, -15.286315903174),
    ],
)
def test_ties_agree_with_another_library(
    ties: str, coef: float, std_error: float, without: float, best: float
) -> None:
    # R 4.2.2, survival: coxph(Surv(entry, exit, failed) ~ x, ties = ties)
    entry = [0, 2, 0, 0, 3, 0, 0, 6, 0, 8, 0, 0]
    ended = [5, 8, 8, 8, 12, 12, 15, 20, 20, 25, 25, 30]
    failed = [1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1]
    x = np.array([1, 0, 1, 1, 1, 0, 0, 1, 0, 0, 1, 0], dtype=float)
    lives = Spells.of(entry, ended, failed)
    fit = fit_proportional(lives, build_covariates(lives, {"x": x}), ties=ties)
    one = fit.ratios[0]
    assert (one.coef, one.std_error) == pytest.approx((coef, std_error), abs=1e-8)
    assert (fit.log_likelihood_without, fit.log_likelihood) == pytest.approx(
        (without, best), abs=1e-8
    )


def test_unknown_ties_are_refused() -> None:
    lives = _fleet(stream(2, "whole"))
    table = build_covariates(lives, {"x": np.arange(60.0)})
    with pytest.raises(ArgumentError, match=r"^ties = 'exact'\. Known are: "):
        fit_proportional(lives, table, ties="exact")


def test_the_criteria_are_their_definitions() -> None:
    # Akaike (1974), Schwarz (1978); AICc less its correction is AIC
    fit = fit_weibull(_fleet(stream(2, "whole")))
    assert fit.aic == pytest.approx(fit.aicc - 2 * 2 * 3 / (60 - 3))
    assert fit.bic - fit.aic == pytest.approx(2 * (math.log(60) - 2))


def test_a_count_has_its_spread_and_quantiles() -> None:
    # variance of a Poisson is its mean; of a sum of unlike chances the sum of p (1 - p)
    assert poisson_law(6.25).sd == pytest.approx(2.5, abs=1e-9)
    p = np.array([0.1, 0.5, 0.8])
    assert CountLaw.of_draws(p[None, :]).sd == pytest.approx(float((p * (1 - p)).sum()) ** 0.5)
    law = CountLaw(probability=np.array([0.2, 0.5, 0.3]))
    assert [law.quantile(q) for q in (0.0, 0.2, 0.21, 0.7, 1.0)] == [0, 0, 1, 1, 2]
    for wrong in (-0.1, 1.5, math.nan):
        with pytest.raises(ArgumentError, match=r"^q = "):
            law.quantile(wrong)
