"""How often profile limits of parameters hold the truth, on benches and histories drawn from it.

The truths are ours; no outside source. Of 600 draws, a share of 0.90 has a standard error of 0.012.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.core.errors import FitError
from fleetstats.spells.histories import Histories
from fleetstats.survival.parameter import Parameter
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.stress.stress_life import StressRuns
from fleetstats.survival.stress.stress_parameters import limits_parameters

DRAWS = 600
SHAPE, INTERCEPT, SLOPE = 2.5, -12.0, -0.6


def holds(one: Parameter, truth: float) -> bool:
    low = -np.inf if one.low is None else one.low
    return bool(low <= truth <= (np.inf if one.high is None else one.high))


@pytest.mark.slow
def test_limits_of_a_bench_hold_as_its_docstring_says() -> None:
    rng = np.random.default_rng(16)
    kelvin = np.repeat([350.0, 370.0, 390.0], 8)
    scale = np.exp(INTERCEPT - SLOPE / (8.617333262e-5 * kelvin))
    held, run_outs, fits = np.zeros(3), 0.0, 0
    for _ in range(DRAWS):
        life = scale * rng.weibull(SHAPE, 24)
        runs = StressRuns.of(kelvin, np.minimum(life, 1500.0), life < 1500.0)
        try:
            got = limits_parameters(runs, relation="arrhenius", level=0.90)
        except FitError:
            continue
        fits += 1
        run_outs += float((~runs.failed).mean())
        truths = ((got.shape, SHAPE), (got.slope, SLOPE), (got.intercept, INTERCEPT))
        held += [holds(one, truth) for one, truth in truths]
    shares = held / fits
    assert run_outs / fits == pytest.approx(0.28, abs=0.01)
    assert fits == DRAWS
    np.testing.assert_allclose(shares, [0.87, 0.88, 0.88], atol=0.006)


@pytest.mark.slow
def test_limits_of_a_power_laws_scale_hold() -> None:
    """Ten systems from 0, 1,000 h each, shape 1.3 and about three events each."""
    rng = np.random.default_rng(17)
    shape, end = 1.3, 1000.0
    lam = 3.0 / end**shape
    unit, held = [str(i) for i in range(10)], 0
    for _ in range(DRAWS):
        count = rng.poisson(3.0, 10)
        hours = end * rng.random(int(count.sum())) ** (1.0 / shape)
        watch = Histories.of(unit, [0.0] * 10, [end] * 10, np.repeat(unit, count), hours)
        got = fit_power_law(watch, level=0.90)
        held += got.lam_low <= lam <= got.lam_high
    assert held / DRAWS == pytest.approx(0.90, abs=0.03)
