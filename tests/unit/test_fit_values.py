"""What a fit says: curves that agree with each other, refusals in words."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from fleetstats.core import FitError, NoMaximum
from fleetstats.core.errors import ArgumentError
from fleetstats.spells import Spells
from fleetstats.survival import FAMILIES, Fit, fit_families, fit_family, fit_weibull
from fleetstats.survival.distribution import log_upper_gamma

LIVES = Spells.of(
    entry=[0, 0, 100, 0, 250, 0, 0, 300],
    exit=[400, 600, 700, 700, 900, 1200, 350, 800],
    failed=[1, 0, 1, 0, 1, 0, 1, 1],
    exit_lower=[400, 600, 650, 700, 900, 1200, 350, 300],
)


@pytest.fixture(scope="module", params=list(FAMILIES))
def fit(request: pytest.FixtureRequest) -> Fit:
    return fit_family(LIVES, request.param)


def test_hazard_is_the_slope_of_the_cumulative_hazard(fit: Fit) -> None:
    t = np.array([50.0, 300.0, 900.0, 2500.0])
    step = 1e-4 * t
    slope = (fit.cumulative_hazard(t + step) - fit.cumulative_hazard(t - step)) / (2 * step)
    np.testing.assert_allclose(fit.hazard(t), slope, rtol=1e-6)  # error of differences, step^2


def test_quantile_is_the_inverse(fit: Fit) -> None:
    p = np.array([1e-3, 0.1, 0.5, 0.99])
    t = fit.quantile(p)
    np.testing.assert_allclose(-np.expm1(-fit.cumulative_hazard(t)), p, rtol=1e-9)
    for bad in (0.0, 1.0, -0.1, math.nan):
        with pytest.raises(ArgumentError, match=r"^p = .* strictly between 0 and 1"):
            fit.quantile(bad)


def test_ages_below_0_h_are_for_the_law_that_has_lives_there(fit: Fit) -> None:
    """The smallest extreme value lies on the whole line (Lawless 2003, section 1.3)."""
    asks = (fit.cumulative_hazard, fit.reliability, fit.hazard,
            lambda t: fit.conditional_failure(t, 50.0))  # fmt: skip
    for ask in asks:
        for ages in (-1.0, [100.0, -1.0]):
            if fit.family == "smallest-extreme-value":
                assert np.all(np.asarray(ask(ages)) > 0.0)
            else:
                with pytest.raises(ArgumentError, match=r"^hours(\[1\])? = -1\.0"):
                    ask(ages)
        with pytest.raises(ArgumentError, match=r"^hours = nan"):
            ask(math.nan)


def test_conditional_failure(fit: Fit) -> None:
    t, width = np.array([100.0, 800.0]), 50.0
    want = 1.0 - fit.reliability(t + width) / fit.reliability(t)
    np.testing.assert_allclose(fit.conditional_failure(t, width), want, rtol=1e-9)


def test_log_likelihood_from_the_curves(fit: Fit) -> None:
    """The sum row by row from the fit's own hazard and reliability; the lives from 0 h are not
    conditioned on anything."""
    s, total = LIVES, 0.0
    for e, a, b, failed in zip(s.entry, s.exit_lower, s.exit_upper, s.failed, strict=True):
        if not failed:
            total += math.log(fit.reliability(b))
        elif a == b:
            total += math.log(fit.hazard(b) * fit.reliability(b))
        else:
            total += math.log(fit.reliability(a) - fit.reliability(b))
        total -= math.log(fit.reliability(e)) if e > 0 else 0.0
    assert fit.log_likelihood == pytest.approx(total, rel=1e-10)


def test_covariance_from_differences_of_the_likelihood(fit: Fit) -> None:
    """The observed information by central differences of the row sum, a second road."""

    def total(x: np.ndarray) -> float:
        d = fit.distribution
        s = LIVES
        with np.errstate(divide="ignore", invalid="ignore"):
            h_low = d.cumulative_hazard(s.exit_lower, x)
            h_up = d.cumulative_hazard(s.exit_upper, x)
            h_in = np.where(s.entry > 0, d.cumulative_hazard(s.entry, x), 0.0)
            between = np.log(np.exp(-h_low) - np.exp(-h_up))
            exact = d.log_hazard(s.exit_upper, x) - h_up
        rows = np.where(s.interval_known, between, np.where(s.failed, exact, -h_up))
        return float((rows + h_in).sum())

    k = len(fit.estimate)
    h = 1e-3 * np.abs(fit.estimate)
    info = np.empty((k, k))
    for i in range(k):
        for j in range(k):
            a, b = np.eye(k)[i] * h, np.eye(k)[j] * h
            x = fit.estimate
            info[i, j] = -(
                total(x + a + b) - total(x + a - b) - total(x - a + b) + total(x - a - b)
            ) / (4 * h[i] * h[j])
    np.testing.assert_allclose(np.linalg.inv(info), fit.covariance, rtol=1e-3)  # step^2


def test_values_leave_as_json(fit: Fit) -> None:
    out = json.loads(json.dumps(fit.to_dict(), allow_nan=False))
    assert out["schema"] == "fleetstats/fit/1"
    assert "spells" not in out
    assert fit.distribution.title in repr(fit)
    with pytest.raises(FitError, match="no parameter 'slope'"):
        fit.parameter("slope")


def test_tail_of_the_gamma() -> None:
    """Where the library's function underflows, against 40 digits."""
    import mpmath

    with mpmath.workdps(40):
        for shape, x in [(0.3, 900.0), (2.5, 1e4), (80.0, 2000.0), (500.0, 3000.0)]:
            want = float(mpmath.log(mpmath.gammainc(shape, x, mpmath.inf, regularized=True)))
            assert float(log_upper_gamma(shape, np.array([x]))[0]) == pytest.approx(want, rel=1e-12)


def test_comparison_says_what_it_cannot_tell() -> None:
    few = fit_families(LIVES)
    assert few.sentence.startswith("With 5 failures the data cannot tell which family")
    assert few.best.family == few.fits[0].family
    assert few.fit("gamma").family == "gamma"
    rng = np.random.default_rng(5)
    many = 900 * rng.weibull(4, 4000)
    lives = Spells.of(np.zeros(4000), np.minimum(many, 1000), many < 1000)
    told = fit_families(lives)
    assert told.best.family == "weibull"
    assert "clearly against" in told.sentence
    assert "exponential" in told.unlikely
    json.dumps(told.to_dict(), allow_nan=False)


def test_comparison_names_what_could_not_be_fitted() -> None:
    at_top = Spells.of([0, 0, 0], [100, 200, 300], [0, 0, 1])
    got = fit_families(at_top)
    assert [f.family for f in got.fits] == ["exponential"]
    assert "oldest age" in got.refused["weibull"]
    with pytest.raises(FitError, match="oldest age"):
        got.fit("weibull")
    with pytest.raises(NoMaximum):
        fit_families(at_top.replace(event=[0, 0, 0]))
    with pytest.raises(ArgumentError, match=r"^family = 'hypothetical'\..* Known are: weibull"):
        fit_family(at_top, "hypothetical")


def test_too_few_lives_for_the_criterion() -> None:
    fit = fit_weibull(Spells.of([0, 0], [100, 200], [1, 0]))
    assert math.isnan(fit.aicc)
    assert fit.to_dict()["aicc"] is None
