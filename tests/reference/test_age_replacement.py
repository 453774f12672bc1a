"""The age-replacement optimum against published theory's numbers, quadrature and the trade's table.

Values in `AGE`: 40-digit quadrature and root, confirmed with R's incomplete gamma function to
1.6e-14; the formula is Barlow & Proschan 1965, ch. 4 (planned cost 1, scale 1).
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from fleetstats.advice.cost.rates import (
    cost_rate,
    flat_range,
    has_practical_optimum,
    mean_regret,
    optimum_age,
)
from fleetstats.core import SettingError
from fleetstats.core.errors import ArgumentError

AGE = {  # (shape, ratio): age / scale, cost rate · scale, run-to-failure rate · scale, saving
    (1.5, 2): (2.1746413797351973, 2.211999797559709, 2.215464334864945, 0.0015637973722773253),
    (1.5, 5): (0.6754919921364622, 4.931299191583556, 5.538660837162363, 0.10965857333304002),
    (1.5, 10): (0.3781444915730173, 8.301616323896354, 11.077321674324725, 0.25057549397179335),
    (2, 2): (1.0907969696347222, 2.1815939392694443, 2.256758334191025, 0.0333063553074347),
    (2, 5): (0.5106552242954465, 4.085241794363572, 5.641895835477563, 0.2759097449700127),
    (2, 10): (0.3364511912553883, 6.056121442596989, 11.283791670955125, 0.4632902113758749),
    (3, 2): (0.81034202742603, 1.9699626042387863, 2.2396930434443716, 0.12043187792858122),
    (3, 5): (0.5026095821025588, 3.0313967042557053, 5.5992326086109285, 0.4586049703322217),
    (3, 10): (0.38245553114298, 3.9493502991501908, 11.198465217221857, 0.6473311098848995),
}


@pytest.mark.parametrize(("shape", "ratio"), AGE)
def test_optimum_matches_barlow_proschan_to_1e_11(shape, ratio):
    age, rate, run, saving = AGE[shape, ratio]
    t = float(optimum_age(shape, 1.0, ratio))
    c = float(cost_rate(t, shape, 1.0, ratio))
    r = float(cost_rate(np.inf, shape, 1.0, ratio))
    assert t == pytest.approx(age, rel=1e-11)
    assert c == pytest.approx(rate, rel=1e-12)
    assert r == pytest.approx(run, rel=1e-12)
    assert 1 - c / r == pytest.approx(saving, rel=1e-9)  # a difference of near-equal rates


@pytest.mark.parametrize("shape", [1.05, 1.3, 2.2, 4.0, 12.0])
@pytest.mark.parametrize("ratio", [1.5, 4.0, 30.0])
def test_cost_and_optimum_agree_with_quadrature(shape, ratio):
    scale = 2345.6

    def survival(t):
        return math.exp(-((t / scale) ** shape))

    def rate(t):
        area = quad(survival, 0.0, t, epsabs=0.0, epsrel=1e-12, limit=400)[0]
        return (survival(t) + ratio * (1.0 - survival(t))) / area

    for t in (0.1 * scale, 0.7 * scale, 1.6 * scale):
        assert float(cost_rate(t, shape, scale, ratio)) == pytest.approx(rate(t), rel=1e-10)
    best = float(optimum_age(shape, scale, ratio))
    if best < 5.0 * scale:
        found = minimize_scalar(
            rate, bounds=(best / 3, best * 3), method="bounded", options={"xatol": 1e-7 * scale}
        )
        assert rate(best) <= found.fun * (1 + 1e-9)
        # a search over costs sees a flat bottom: 1e-4 is what it can resolve of the age
        assert best == pytest.approx(found.x, rel=1e-4)


def test_flat_range_reads_as_the_trade_table_says():
    # design notes C5: scale 2,000 h, range within 5 % of the least cost, read to 5 or 10 h
    table = {
        (2.5, 5): (985, 750, 1295),
        (2.5, 10): (710, 545, 920),
        (2.5, 3): (1315, 990, 1785),
        (1.5, 5): (1350, 835, 2535),
    }
    for (shape, ratio), (age, low, high) in table.items():
        assert float(optimum_age(shape, 2000.0, ratio)) == pytest.approx(age, abs=5)
        got = flat_range(shape, 2000.0, ratio)
        assert got == (pytest.approx(low, abs=6), pytest.approx(high, abs=6))
        for edge in got:  # and each edge costs 5 % more than the least, to the last digits
            least = float(cost_rate(age, shape, 2000.0, ratio))
            assert float(cost_rate(edge, shape, 2000.0, ratio)) == pytest.approx(
                1.05 * least, rel=2e-5
            )


def test_optimum_follows_its_first_order_condition_for_any_shape_above_one():
    shape = np.array([1.001, 1.02, 1.2, 1.9, 3.0, 8.0, 30.0, 200.0])
    for ratio in (1.01, 2.0, 50.0, 1e4):
        t = optimum_age(shape, 1.0, ratio)
        ok = np.isfinite(t)
        assert ok[2:].all() or ratio < 1.1
        near = ok & (t**shape < 50)
        eps = 1e-4
        for b, age in zip(shape[near], t[near], strict=True):
            least = float(cost_rate(age, b, 1.0, ratio))
            for other in (age * (1 - eps), age * (1 + eps)):
                assert float(cost_rate(other, b, 1.0, ratio)) >= least * (1 - 1e-12)


def test_scale_only_multiplies_the_age():
    for scale in (1e-6, 1.0, 1e7):
        assert float(optimum_age(2.3, scale, 4.0)) == pytest.approx(
            scale * float(optimum_age(2.3, 1.0, 4.0)), rel=1e-14
        )


def test_no_optimum_at_shape_one_or_less():
    assert np.isinf(optimum_age([0.4, 1.0], 1000.0, 5.0)).all()
    assert not has_practical_optimum([0.4, 1.0], 5.0).any()
    assert not has_practical_optimum(1.02, 2.0)  # exists, but nearly all would fail before it
    assert has_practical_optimum(2.0, 5.0)
    assert all(math.isnan(x) for x in flat_range(1.0, 1000.0, 5.0))


def test_dearer_failures_never_call_for_later_overhaul():
    ages = [float(optimum_age(2.4, 1500.0, r)) for r in (1.2, 2, 3, 5, 8, 20, 100)]
    assert ages == sorted(ages, reverse=True)


def test_regret_is_nil_at_the_optimum_of_a_single_draw_and_grows_away_from_it():
    shape, scale = np.array([2.5]), np.array([2000.0])
    best = float(optimum_age(2.5, 2000.0, 5.0))
    low, high = flat_range(2.5, 2000.0, 5.0)
    got = mean_regret([best, low, high, 3000.0], shape, scale, 5.0)
    assert got[0] == pytest.approx(0.0, abs=1e-12)
    assert got[1:3] == pytest.approx(0.05, rel=1e-9)
    assert got[3] > 0.2


def test_impossible_costs_are_refused():
    with pytest.raises(SettingError, match="ratio 1"):
        optimum_age(2.0, 1000.0, 1.0)
    with pytest.raises(ArgumentError, match=r"^shape"):
        optimum_age(-1.0, 1000.0, 2.0)
