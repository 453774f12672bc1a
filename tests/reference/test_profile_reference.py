"""Profile limits against values computed elsewhere, at two-sided 90 and 95 %.

Every profile limit of ``data/cases.json`` and ``data/more/cases.json`` (R's survival package, and
likelihoods written out at 40 digits with nested optimisation): bearing cages (Abernethy 1983),
NIST/SEMATECH e-Handbook 8.4.1, diesel fans and turbine wheels (Nelson 1982), Channing House (Hyde
1977), breast cosmesis (Finkelstein & Wolfe 1985), two simulated fleets frozen with the cases.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from cases_support import expected, spells, tolerance
from known_shape import life_low_h, reliability_low

from fleetstats.bands.likelihood.contour import Contour
from fleetstats.bands.likelihood.profile import (
    band_quantity,
    curve_quantity,
    likelihood_drop,
    region_interval,
    weibull_region,
)
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells
from fleetstats.survival import fit_weibull

CASES = {
    "bearing-cage": "bearing_cage",
    "nist-weibull": "nist_weibull",
    "channing-men": "channing_men",
    "cosmesis-1": "cosmesis_1",
    "fan-weibull": "genfan",
    "nist-weibull-more": "nist_ten_of_twenty",
    "cage-weibull-more": "bearing_cage_fleet",
    "late-fleet-a-weibull": "late_fleet_a",
    "wheels-weibull": "turbine_wheels",
    "mixed-fleet-a": "mixed_fleet_a",
}


def asked(name: str) -> Quantity:
    if name in ("shape", "scale"):
        return Quantity(kind=name)
    if name[0] in "bB":
        return Quantity.life(float(name[1:]) / 100)
    return Quantity.reliability(float(name[2:-1]))


def limits(case: str) -> list[tuple[str, int, str, float]]:
    """Return (quantity, level, edge, value) of every profile limit that a case lists."""
    out = []
    for key, value in expected(case).items():
        pair = re.fullmatch(r"(\w+)_profile(\d+)", key)
        single = re.fullmatch(r"(.+)_profile_(lower|upper)(\d+)", key)
        if pair:
            out += [
                (pair[1], int(pair[2]), edge, v)
                for edge, v in zip(("lower", "upper"), value, strict=True)
            ]
        elif single:
            out.append((single[1], int(single[3]), single[2], value))
    return out


@pytest.mark.parametrize("case", CASES)
def test_profile_limits(case: str) -> None:
    lives = spells(CASES[case])
    seen = 0
    for level in (90, 95):
        region = weibull_region(lives, level=level / 100)
        done = {}
        for name, at, edge, value in limits(case):
            if at != level:
                continue
            if name not in done:
                done[name] = region_interval(region, asked(name), level=level / 100)
            found = done[name].low if edge == "lower" else done[name].high
            # values in the first file were reached by an optimiser that stops near 1e-6
            assert found == pytest.approx(value, rel=tolerance(case), abs=1e-9), (name, edge, level)
            seen += 1
    assert seen >= 8


def test_bearing_cage_limits_in_hours() -> None:
    # Abernethy et al. 1983; Meeker & Escobar 1998: hours as the handbooks' readers know them
    fit = fit_weibull(spells("bearing_cage"))
    wide, narrow = (band_quantity(fit, Quantity.life(0.1), level=level) for level in (0.95, 0.90))
    assert (round(wide.low or 0), round(wide.high or 0)) == (2094, 22144)
    assert (round(narrow.low or 0), round(narrow.high or 0)) == (2238, 14428)


def test_two_roads_to_the_same_edge() -> None:
    # the region by shape and the contour walked by angle are written independently
    fit = fit_weibull(spells("late_fleet_a"))
    region = weibull_region(fit.spells, level=0.9)
    contour = Contour.of_fit(fit, drop=likelihood_drop(0.9))
    for quantity in (
        Quantity.life(0.1), Quantity.shape(), Quantity.reliability(1200.0), Quantity.hazard(900.0),
        Quantity.conditional(1000.0, 50.0), Quantity.scale(),
    ):  # fmt: skip
        one = region_interval(region, quantity, level=0.9)
        low, high = contour.extremes(quantity)
        assert one.low == pytest.approx(low, rel=1e-7)
        assert one.high == pytest.approx(high, rel=1e-7)


def test_a_curve_agrees_with_its_points() -> None:
    fit = fit_weibull(spells("genfan"))
    hours = np.array([0.0, 500.0, 2000.0, 5000.0, 9000.0])
    curve = curve_quantity(fit, "reliability", hours, level=0.9)
    assert curve.low[0] == curve.high[0] == 1.0
    region = weibull_region(fit.spells, level=0.9)
    for i in range(1, 5):
        one = region_interval(region, Quantity.reliability(hours[i]), level=0.9)
        assert curve.low[i] == pytest.approx(one.low, rel=1e-7)
        assert curve.high[i] == pytest.approx(one.high, rel=1e-7)


def test_zero_failures_given_shape() -> None:
    # case zero-failures: closed forms at 40 digits, confirmed in R
    want = expected("zero-failures")
    stop = [400, 650, 800, 900, 1100, 1200, 1350, 1500, 1500, 1600]
    entry = {"all_from_new": np.zeros(10), "late_entry": [0, 0, 200, 0, 500, 0, 700, 0, 900, 0]}
    for who, start in entry.items():
        lives = Spells.of(start, stop, np.zeros(10))
        for shape in (1, 2, 3):
            for c in (0.9, 0.95):
                name = f"weibayes_{who}_shape{shape}_C{c}"
                scale = life_low_h(lives, shape, -np.expm1(-1.0), confidence=c)
                assert scale == pytest.approx(want[f"{name}_scale_lower"], rel=1e-9)
                life = life_low_h(lives, shape, 0.1, confidence=c)
                assert life == pytest.approx(want[f"{name}_B10_lower"], rel=1e-9)
                low = reliability_low(lives, shape, 1200.0, confidence=c)
                assert low == pytest.approx(want[f"{name}_R_lower"], rel=1e-9)
    # one common age is the success run: R = (1 - C)^(1/n) whatever the shape
    run = Spells.of(np.zeros(59), np.full(59, 1200.0), np.zeros(59))
    low = reliability_low(run, 2.7, 1200.0)
    assert low == pytest.approx(want["R_lower95_from_59_successes"], rel=1e-9)


def test_reference_fleet_over_shapes() -> None:
    # The young fleet of the design notes: 260 engines, ages evenly 50 to 1,450 h, none failed;
    # upper 95 % of the share failed in closed form, as printed there to two or three digits; the
    # last, 18.146 in full, stands there as 18.2, rounded twice.
    fleet = Spells.of(np.zeros(260), np.linspace(50, 1450, 260), np.zeros(260))
    printed = [
        [0.92, 1.83, 2.28, 3.0],
        [0.57, 2.26, 3.50, 6.1],
        [0.31, 2.48, 4.79, 11.0],
        [0.16, 2.56, 6.14, 18.15],
    ]
    hours = [600.0, 1200.0, 1500.0, 2000.0]
    got = [[100 * (1 - reliability_low(fleet, b, h)) for h in hours] for b in (1, 2, 3, 4)]
    assert np.array(got) == pytest.approx(np.array(printed), abs=0.05)
    life = [life_low_h(fleet, b, 0.05) for b in (1, 2, 3, 4)]
    assert life == pytest.approx([3339, 1799, 1522, 1423], abs=0.5)
    # neither end of the range is the safe one
    assert np.argmax(got, axis=0).tolist() == [0, 3, 3, 3]
    late = Spells.of(np.linspace(25, 725, 260), np.linspace(50, 1450, 260), np.zeros(260))
    high = [100 * (1 - reliability_low(late, b, 1200.0)) for b in (1, 2, 3, 4)]
    assert high == pytest.approx([3.62, 3.00, 2.83, 2.73], abs=0.005)
