"""The remaining values of the cases: normal limits of lives, exact limits of shares and rates.

Each case names its source in ``data/cases.json`` or ``data/more/cases.json``: Clopper & Pearson
1934, Garwood 1936, the NIST/SEMATECH e-Handbook 8.4.5.1, Barlow & Proschan 1965, and likelihoods at
40 digits for the normal limits on the log of a life.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from cases_support import case, expected, spells, tolerance

from fleetstats.advice.cost.rates import cost_rate, optimum_age
from fleetstats.advice.success_run import equivalents_needed
from fleetstats.bands.likelihood.wald import band_normal
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim.compute import bound_no_shape
from fleetstats.spells import Spells
from fleetstats.survival import fit_weibull
from fleetstats.survival.counting.exposure import poisson_limits
from fleetstats.survival.counting.plotting import estimate_median_ranks
from fleetstats.survival.delay.delay_limits import exact_share

LIVES = {
    "fan-weibull": "genfan",
    "nist-weibull-more": "nist_ten_of_twenty",
    "cage-weibull-more": "bearing_cage_fleet",
    "late-fleet-a-weibull": "late_fleet_a",
    "wheels-weibull": "turbine_wheels",
    "mixed-fleet-a": "mixed_fleet_a",
}


@pytest.mark.parametrize("name", LIVES)
def test_normal_limits_of_lives(name: str) -> None:
    fit = fit_weibull(spells(LIVES[name]))
    seen = 0
    for key, value in expected(name).items():
        found = re.fullmatch(r"B(\d+)_logwald_(lower|upper)(\d+)", key)
        if found:
            p, edge, level = int(found[1]) / 100, found[2], int(found[3]) / 100
            limits = band_normal(fit, Quantity.life(p), level=level)
            got = limits.low if edge == "lower" else limits.high
            assert got == pytest.approx(value, rel=1e-6), key
            seen += 1
    assert seen >= 4


def test_exact_limits_of_shares() -> None:
    want, rel = expected("exact-bounds"), tolerance("exact-bounds")
    for failed, n in ((0, 30), (1, 30), (3, 100)):
        for level in (90, 95):
            stem = f"clopper_pearson_%s{level}_{failed}of{n}"
            low, high = exact_share(failed, n, level / 100)
            assert low == pytest.approx(want[stem % "lower"], rel=rel, abs=1e-12)
            assert high == pytest.approx(want[stem % "upper"], rel=rel)
            # the bound that a claim gives without a shape is the same upper edge
            ages = np.where(np.arange(n) < failed, 500.0, 1300.0)
            lives = Spells.of(0, ages, ages < 1000.0)
            bound = bound_no_shape(lives, 1200.0, 0.5 + level / 200)
            assert bound == (n, pytest.approx(want[stem % "upper"], rel=rel))


def test_median_ranks_of_six_and_twenty() -> None:
    want, rel = expected("exact-bounds"), tolerance("exact-bounds")
    for n in (6, 20):
        lives = Spells.of(0, np.arange(1.0, n + 1), np.ones(n))
        p = estimate_median_ranks(lives).failure_probability
        for i in (1, 2, n):
            assert p[i - 1] == pytest.approx(want[f"rank_50pct_{i}of{n}"], rel=rel)


def test_mean_hours_between_failures_of_the_handbook() -> None:
    want, rel = expected("exact-bounds"), tolerance("exact-bounds")
    low, high = poisson_limits(2, level=0.90)
    stem = "mtbf_%s90_2_in_800h_time_terminated"
    # from a watch that ended by the clock: the lower limit of hours has one failure more
    assert 800.0 / float(high) == pytest.approx(want[stem % "lower"], rel=rel)
    assert 800.0 / float(low) == pytest.approx(want[stem % "upper"], rel=rel)


def test_success_runs_before_rounding_up() -> None:
    want = expected("zero-failures")
    for r, c in ((0.9, 0.9), (0.95, 0.95), (0.99, 0.9), (0.9, 0.95)):
        assert equivalents_needed(r, c, 0) == pytest.approx(
            want[f"success_run_n_R{r}_C{c}"], rel=1e-9
        )
    for n in (10, 59, 300):
        lives = Spells.of(0, np.full(n, 1200.0), np.zeros(n))
        bound = bound_no_shape(lives, 1200.0, 0.95)
        assert bound is not None
        assert 1 - bound[1] == pytest.approx(want[f"R_lower95_from_{n}_successes"], rel=1e-9)


def test_age_replacement_as_both_files_give_it() -> None:
    rows = case("age-replacement")["expected"]
    want = expected("age-replacement-more")
    assert len(rows) == 9
    for row in rows:
        shape, ratio = row["shape"], row["cost_ratio"]
        age = float(optimum_age(shape, 1.0, ratio))
        rate = float(cost_rate(age, shape, 1.0, ratio))
        run = float(cost_rate(math.inf, shape, 1.0, ratio))
        # R's search over a flat bottom is good to 1e-5 in the age, as the case says
        assert age == pytest.approx(row["t_over_scale"], rel=1e-5)
        assert rate == pytest.approx(row["cost_rate_times_scale"], rel=1e-10)
        stem = f"shape{shape:g}_ratio{ratio}_"
        assert age == pytest.approx(want[f"{stem}best_age_over_scale"], rel=1e-9)
        assert rate == pytest.approx(want[f"{stem}cost_rate_times_scale"], rel=1e-9)
        assert run == pytest.approx(want[f"{stem}run_to_failure_cost_rate_times_scale"], rel=1e-9)
        assert 1 - rate / run == pytest.approx(want[f"{stem}saving_fraction"], rel=1e-9)
