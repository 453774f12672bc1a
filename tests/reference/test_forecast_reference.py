"""Bearing cages, 300 h and 1,000 h more each: the plug-in forecast against two published roads.

Case cage-forecast (``data/more/cases.json``): exact convolution, confirmed in R by Fourier
inversion; expected 5.057 in the next 300 h (Meeker & Escobar 1998, example 12.6, from memory).
Plug-in intervals are never calibrated within a sample (Tian, Meng, Nordman & Meeker 2021), so the
forecast that the tool gives must be wider.
"""

import numpy as np
import pytest
from cases_support import expected, spells, tolerance

from fleetstats.bands.draws import draw_lives
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival.counting.count_law import CountLaw, poisson_binomial
from fleetstats.survival.weibull.fit_weibull import fit_weibull


@pytest.fixture(scope="module")
def cages():
    s = spells("bearing_cage_fleet")
    running = ~s.failed
    ages = np.repeat(s.exit_upper[running], s.weight[running].astype(int))
    return s, fit_weibull(s), ages


@pytest.mark.parametrize("ahead", [300, 1000])
def test_plug_in(cages, ahead):
    _, fit, ages = cages
    assert len(ages) == 1697
    want, rel = expected("cage-forecast"), tolerance("cage-forecast")
    p = fit.conditional_failure(ages, float(ahead))
    law = CountLaw(probability=poisson_binomial(p))
    assert law.mean == pytest.approx(want[f"expected_next{ahead}"], rel=rel)
    assert law.none == pytest.approx(want[f"P_none_next{ahead}"], rel=rel * 10, abs=1e-9)
    k = np.arange(len(law.probability))
    sd = np.sqrt(law.probability @ k**2 - law.mean**2)
    assert sd == pytest.approx(want[f"sd_next{ahead}"], rel=rel)
    for q in ("5", "50", "95", "97.5"):
        assert law.quantile(float(q) / 100) == want[f"plugin_quantile{q}_next{ahead}"]


@pytest.mark.parametrize("method", ["weights", "shape-mixture"])
def test_the_forecast_is_wider_than_the_plug_in(cages, method):
    s, fit, ages = cages
    draws = draw_lives(s, EvidenceKeys(), 300, seed=5, method=method)
    assert draws.method == method
    for ahead in (300.0, 1000.0):
        low, high = CountLaw.of_draws(draws.conditional_failure(ages, ahead)).interval(0.90)
        naive = CountLaw(probability=poisson_binomial(fit.conditional_failure(ages, ahead)))
        a, b = naive.interval(0.90)
        assert low <= a
        assert high > b
