"""Recurrent events against values computed elsewhere; the source of each stands in its case."""

from __future__ import annotations

import numpy as np
import pytest
from cases_support import expected, single_system, three_systems, tolerance, valve_seats
from scipy.stats import norm

from fleetstats.spells.histories import Histories
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative
from fleetstats.survival.recurrent.trend import estimate_trend

# MIL-HDBK-189 (1981), table of 40 failures to 3,256.3 h, from memory; estimates shape 0.490 and
# lam 0.761 from memory too. The refit agrees, so the memory of both is likely right.
HANDBOOK_40 = (
    0.7, 3.7, 13.2, 17.6, 54.5, 99.2, 112.2, 120.9, 151.0, 163.0, 174.5, 191.6, 282.8, 355.2,
    486.3, 490.5, 513.3, 558.4, 678.1, 688.0, 785.9, 887.0, 1010.7, 1029.1, 1034.4, 1136.1,
    1178.9, 1259.7, 1297.9, 1419.7, 1571.7, 1629.8, 1702.4, 1928.9, 2072.3, 2525.2, 2928.5,
    3016.4, 3181.0, 3256.3,
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "histories"),
    [
        ("valve-seat-mcf-more", lambda: valve_seats("more/valve_seat_units.csv", "id", "days")),
        ("three-systems-mcf", three_systems),
    ],
)
def test_mean_cumulative(name: str, histories) -> None:
    want, rel = expected(name), tolerance(name)
    h = histories()
    curve = estimate_mean_cumulative(h, level=0.95)
    assert (curve.n_units, curve.n_events) == (want["units"], want["events"])
    half = norm.ppf(0.975) * curve.std_error
    low, high = curve.mean - half, curve.mean + half
    ages = {k.split("_")[0][2:] for k in want if k.startswith("at")}
    assert len(ages) >= 3
    for age in ages:
        t = float(age)
        mean, se, (log_low, log_high) = curve.at(t), curve.std_error_at(t), curve.limits_at(t)
        i = np.searchsorted(curve.hours, float(age), side="right") - 1
        got = {
            "mcf": mean,
            "robust_se": se,
            "log_lower95": log_low,
            "log_upper95": log_high,
            "lower95": low[i],
            "upper95": high[i],
        }
        for key, value in got.items():
            assert value == pytest.approx(want[f"at{age}_{key}"], rel=rel), (age, key)


def test_valve_seats_as_counted_in_r() -> None:
    want, rel = expected("valve-seat"), tolerance("valve-seat")
    curve = estimate_mean_cumulative(valve_seats("valve_seat.csv", "unit", "time"), level=0.95)
    t = want["at_days"]
    got = np.column_stack([curve.at(t), curve.std_error_at(t), *curve.limits_at(t)])
    assert got[:, 0] == pytest.approx(want["mcf"], rel=rel)
    assert got[:, 1] == pytest.approx(want["se_robust"], rel=rel)


def test_valve_seats_power_law_over_different_ends() -> None:
    want, rel = expected("valve-seat-power-law"), tolerance("valve-seat-power-law")
    fit = fit_power_law(valve_seats("valve_seat.csv", "unit", "time"))
    assert fit.shape == pytest.approx(want["b"], rel=rel)
    assert fit.lam == pytest.approx(want["a"], rel=rel)
    assert fit.log_likelihood == pytest.approx(want["loglik"], rel=rel)


GROWTH = [
    ("growth-milhdbk189", lambda: single_system("growth_27_in_300h.csv", 300.0), "time"),
    ("growth-nist", lambda: single_system("growth_nist_1500h.csv", 1500.0), "time"),
    ("growth-milhdbk189-failure-terminated", lambda: single_system("growth_27_in_300h.csv", None),
     "failure"),
    ("three-systems-power-law", three_systems, "time"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "histories", "ended"), GROWTH, ids=[g[0] for g in GROWTH])
def test_power_law(name: str, histories, ended: str) -> None:
    want, rel = expected(name), tolerance(name)
    h = histories()
    fit = fit_power_law(h, terminated=ended)
    assert fit.n_events == want["n"]
    pairs = {
        "shape": fit.shape,
        "lam": fit.lam,
        "loglik": fit.log_likelihood,
        "shape_unbiased": fit.shape_unbiased,
        "cramer_von_mises": fit.cramer_von_mises,
        "intensity_at_end": fit.intensity_at_end,
        "mtbf_at_end": fit.mtbf_at_end_h,
        "lam_per_system": fit.lam,
        "modified_lam": fit.lam_modified,
        "modified_mtbf_at_end": fit.mtbf_modified_h,
    }
    for key, value in pairs.items():
        if key in want:
            assert value == pytest.approx(want[key], rel=rel), key
    for level in (80, 90, 95):
        if f"shape_exact_lower{level}" in want:
            limits = fit_power_law(h, terminated=ended, level=level / 100)
            assert limits.exact
            assert limits.shape_low == pytest.approx(want[f"shape_exact_lower{level}"], rel=rel)
            assert limits.shape_high == pytest.approx(want[f"shape_exact_upper{level}"], rel=rel)
    if "laplace_u" in want:
        trend = estimate_trend(h, terminated=ended)
        assert trend.laplace_u == pytest.approx(want["laplace_u"], rel=rel)
        assert trend.handbook_statistic == pytest.approx(
            want["military_handbook_chi2_statistic"], rel=rel
        )
        assert trend.handbook_df == want["military_handbook_df"]
    assert fit.fit_p_value > 0.05  # the handbooks accept the law on each of these


def test_forty_failures_of_the_handbook() -> None:
    h = Histories.of(["a"], [0.0], [3256.3], ["a"] * 40, HANDBOOK_40)
    fit = fit_power_law(h, terminated="failure")
    # One unit of the last digit: whether the recalled figures are rounded or cut is not known.
    assert fit.shape == pytest.approx(0.490, abs=1e-3)
    assert fit.lam == pytest.approx(0.761, abs=1e-3)
    assert estimate_trend(h, terminated="failure").direction == "slower"


@pytest.mark.parametrize(
    ("ended", "n", "low", "high"),
    [
        ("time", 2, "0.261", "18.66"),
        ("time", 3, "0.333", "6.326"),
        ("time", 10, "0.549", "2.136"),
        ("failure", 2, "0.8065", "33.76"),
        ("failure", 3, "0.6840", "8.927"),
        ("failure", 4, "0.6601", "5.328"),
    ],
)
def test_exact_limits_of_hours_between_events(ended, n, low, high) -> None:
    """Crow (1982) and the tables of MIL-HDBK-189 for 80 % two-sided limits, from memory."""
    t = np.linspace(10.0, 100.0, n)
    end = 100.0 if ended == "failure" else 120.0
    fit = fit_power_law(
        Histories.of(["a"], [0.0], [end], ["a"] * n, t), level=0.80, terminated=ended
    )
    # The tables' multipliers belong to the estimate T / (n shape).
    for got, printed in ((fit.mtbf_low_h, low), (fit.mtbf_high_h, high)):
        # One unit of the last digit recalled; the equation itself is solved in the unit tests.
        unit = 10.0 ** -len(printed.split(".")[1])
        assert got / fit.mtbf_at_end_h == pytest.approx(float(printed), abs=unit)
