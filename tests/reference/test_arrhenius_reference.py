"""The temperature law against a published worked example and two libraries.

Device-A: Meeker & Escobar (1998), section 19.2: 165 units at 10, 40, 60 and 80 degrees Celsius. The
table stands in ``data/bench/device_a.csv``. The published fit is lognormal: intercept -13.469,
activation energy 0.628 eV (with 1 / k = 11605), sigma 0.978, log-likelihood -321.7 (from memory).
Our law is Weibull, so lifelines carries the example over: its lognormal fit gives the published
figures from our table and our kelvin, and its Weibull fit is what ours must be.
"""

import math

import numpy as np
import pandas as pd
import pytest
from cases_support import DATA

from fleetstats.survival.stress.stress_bands import limits_life, limits_margin, service_distance
from fleetstats.survival.stress.stress_life import (
    BOLTZMANN_EV,
    ZERO_C_IN_K,
    StressRuns,
    fit_stress_life,
    transform,
)


@pytest.fixture(scope="module")
def table():
    return pd.read_csv(DATA / "bench" / "device_a.csv")


@pytest.fixture(scope="module")
def runs(table):
    kelvin = table.temperature_c.to_numpy() + ZERO_C_IN_K
    return StressRuns.of(kelvin, table.hours.to_numpy(float), table.failed.to_numpy() == 1)


def test_device_a_agrees_with_the_book_and_with_lifelines(table, runs):
    lifelines = pytest.importorskip("lifelines")
    frame = pd.DataFrame({"t": table.hours, "e": table.failed})
    frame["x"] = 11605.0 / (table.temperature_c + 273.15)
    book = lifelines.LogNormalAFTFitter().fit(frame, "t", "e")
    assert book.params_["mu_", "Intercept"] == pytest.approx(-13.469, abs=5e-4)
    assert book.params_["mu_", "x"] == pytest.approx(0.628, abs=5e-4)
    assert math.exp(book.params_["sigma_", "Intercept"]) == pytest.approx(0.978, abs=5e-4)
    assert book.log_likelihood_ == pytest.approx(-321.7, abs=0.05)
    other = lifelines.WeibullAFTFitter().fit(frame, "t", "e")
    fit = fit_stress_life(runs, relation="arrhenius")
    rel = 2e-4  # lifelines stops at about 1e-4
    assert -fit.slope == pytest.approx(other.params_["lambda_", "x"], rel=rel)
    assert fit.intercept == pytest.approx(other.params_["lambda_", "Intercept"], rel=rel)
    assert fit.shape == pytest.approx(math.exp(other.params_["rho_", "Intercept"]), rel=rel)
    assert fit.log_likelihood == pytest.approx(other.log_likelihood_, abs=1e-3)
    at = pd.DataFrame({"x": [11605.0 / 283.15]})
    b10 = float(other.predict_percentile(at, p=0.9).iloc[0])
    assert fit.life(0.10, 283.15) == pytest.approx(b10, rel=2e-3)


def test_the_factor_of_acceleration_is_the_published_one():
    """`reliability`'s documented example: 1.2 eV from 60 to 100 degrees Celsius gives 88.2957."""
    ours = math.exp(1.2 * (transform(373.15, "arrhenius") - transform(333.15, "arrhenius")))
    assert ours == pytest.approx(88.29574588463338, rel=2e-4)  # its k has five digits
    pof = pytest.importorskip("reliability.PoF")
    told = pof.acceleration_factor(T_use=60, T_acc=100, Ea=1.2, print_results=False)
    assert ours == pytest.approx(told.AF, rel=2e-4)
    assert pytest.approx(11604.518, abs=5e-4) == 1.0 / BOLTZMANN_EV  # CODATA 2018


def test_life_and_margin_are_one_answer_asked_two_ways(runs):
    """At the allowed temperature the life is the life required: estimate and each limit."""
    ask = {"relation": "arrhenius", "level": 0.90}
    margin = limits_margin(runs, 0.10, 283.15, 5000.0, **ask)
    for name, edge in (("estimate", margin.estimate), ("low", margin.low), ("high", margin.high)):
        life = limits_life(runs, 0.10, 283.15 + edge, **ask)
        assert getattr(life, name) == pytest.approx(5000.0, rel=1e-4), name
    assert service_distance(runs, 283.15, "arrhenius") == 0.0
    x = [1.0 / t for t in (273.15, 283.15, 353.15)]
    want = (x[0] - x[1]) / (x[1] - x[2])
    assert service_distance(runs, 273.15, "arrhenius") == pytest.approx(want, rel=1e-9)


def test_where_any_temperature_would_do_the_upper_margin_is_none():
    """Hardly a fall with temperature: some law of the band never brings the life so low."""
    life = np.array([900.0, 1000.0, 1100.0, 850.0, 950.0, 1050.0])
    hot = StressRuns.of(np.repeat([320.0, 380.0], 3), life, np.ones(6, dtype=bool))
    margin = limits_margin(hot, 0.10, 300.0, 100.0, relation="arrhenius", level=0.90)
    assert margin.high is None
    assert math.isinf(margin.estimate) or margin.estimate > 0
