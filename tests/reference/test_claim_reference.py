"""Claims against closed forms: the reference fleet, reference cases, tipping counts.

The table of the reference fleet (260 engines, ages evenly 50 to 1,450 h, none failed) was computed
apart from this package for the design notes, in closed form, and is given there to the digits
shown. Two of its cells were rounded twice there (18.146 to 18.2, 3.549 to 3.6); here they stand as
18.15 and 3.55.
"""

import numpy as np
import pytest
from advice_fleets import made_settings, reference_fleet, young_fleet
from cases_support import expected, never_failed, tolerance

from fleetstats.advice.equivalents import failure_bound, life_equivalents, poisson_allowance
from fleetstats.advice.success_run import success_run
from fleetstats.chapters.claim.compute import advise_claim, bound_no_shape, claim_rows
from fleetstats.spells import Spells

# shape: upper 95 % F at 600, 1,200, 1,500, 2,000 h; B5 lower; 1,200 h with entry at half age;
# 1,200 h with 1, 2, 3 failures hidden
TABLE = {
    1: ((0.92, 1.83, 2.28, 3.0), 3339, 3.62, (2.9, 3.8, 4.7)),
    2: ((0.57, 2.26, 3.50, 6.1), 1799, 3.00, (3.55, 4.7, 5.7)),
    3: ((0.31, 2.48, 4.79, 11.0), 1522, 2.83, (3.9, 5.1, 6.3)),
    4: ((0.16, 2.56, 6.14, 18.15), 1423, 2.73, (4.0, 5.3, 6.5)),
}


@pytest.mark.parametrize("shape", TABLE)
def test_reference_fleet_table(shape):
    fleet, late = reference_fleet(), reference_fleet(half=True)
    bounds, b5, half, hidden = TABLE[shape]
    m = poisson_allowance(0, 0.95)
    for hours, percent in zip((600, 1200, 1500, 2000), bounds, strict=True):
        got = 100 * float(failure_bound(life_equivalents(fleet, shape, hours), m)[0])
        assert got == pytest.approx(percent, abs=0.0501 if percent * 10 % 1 == 0 else 0.0051)
    (row,), _ = claim_rows(fleet, (shape,), hours=1200, target=0.95, confidence=0.95)
    assert row.shown_to_h == pytest.approx(b5, abs=0.51)
    assert [100 * x for x in row.failure_if_hidden] == pytest.approx(hidden, abs=0.0501)
    (row,), _ = claim_rows(late, (shape,), hours=1200, target=0.95, confidence=0.95)
    assert 100 * row.failure_high == pytest.approx(half, abs=0.0051)


def test_reference_fleet_counts():
    claim = advise_claim(reference_fleet(), made_settings())
    assert claim.n_engines == 260
    assert claim.exposure_h == pytest.approx(195_000, rel=1e-12)
    assert claim.n_reached == 47
    assert claim.oldest_h == 1450
    # without any shape only the 47 engines past 1,200 h count: 6.2 %
    n, high = claim.no_shape
    assert n == 47
    assert 100 * high == pytest.approx(6.2, abs=0.05)
    assert high == pytest.approx(1 - 0.05 ** (1 / 47), rel=1e-12)


def test_tipping_counts_and_reporting_shares_of_the_reference_fleet():
    # shape 3, 95 %: a claim of 2.5 % breaks at 1 hidden failure, q* 0.99; of 5 % at 2, q* 0.49
    for accepted, k, q in ((0.025, 1, 0.99), (0.05, 2, 0.49)):
        (row,), _ = claim_rows(
            reference_fleet(), (3.0,), hours=1200, target=1 - accepted, confidence=0.95
        )
        assert row.hidden_to_break == k
        assert row.reporting_share == pytest.approx(q, abs=0.0051)


def test_zero_failures_case():
    want, rel = expected("zero-failures"), tolerance("zero-failures")
    for name, late in {"all_from_new": False, "late_entry": True}.items():
        lives = never_failed(late=late)
        assert len(lives) == 10
        for shape in (1, 2, 3):
            for c in (0.9, 0.95):
                (row,), _ = claim_rows(lives, (shape,), hours=1200, target=0.9, confidence=c)
                key = f"weibayes_{name}_shape{shape}_C{c}"
                assert row.reliability_low == pytest.approx(want[f"{key}_R_lower"], rel=rel)
                assert row.shown_to_h == pytest.approx(want[f"{key}_B10_lower"], rel=rel)


def test_success_runs():
    for case in expected("closed-forms")["success_run"]:
        assert success_run(case["R"], case["C"]) == case["n"]
    want = expected("zero-failures")
    for r, c in ((0.9, 0.9), (0.95, 0.95), (0.99, 0.9), (0.9, 0.95)):
        assert success_run(r, c) == want[f"success_run_n_ceiling_R{r}_C{c}"]
    # to twice the target age at shape 2 each engine counts four times
    assert success_run(0.95, 0.95, run_share=2.0, shape=2.0) == 15  # 58.4 / 4 = 14.6


def test_poisson_and_binomial_bounds():
    for name, m in expected("closed-forms")["poisson_upper95"].items():
        assert poisson_allowance(int(name[1:]), 0.95) == pytest.approx(m, rel=1e-9)
    # 2 of 250 failed before the age, 248 passed it: Clopper-Pearson one-sided 95 %
    lives = Spells.of(0, [500.0] * 2 + [1300.0] * 248, [1] * 2 + [0] * 248)
    assert bound_no_shape(lives, 1200.0, 0.95)[1] == pytest.approx(
        expected("closed-forms")["clopper_pearson_upper95_2of250"], rel=1e-9
    )
    r10 = expected("zero-failures")["R_lower95_from_10_successes"]
    ten = Spells.of(0, np.full(10, 1200.0), np.zeros(10))
    assert 1 - bound_no_shape(ten, 1200.0, 0.95)[1] == pytest.approx(r10, rel=1e-9)


def test_young_fleet_of_common_practice():
    # 250 engines, none failed, oldest past 1,500 h, claim 1,200 h: common practice, no source.
    claim = advise_claim(young_fleet(), made_settings(), reliability=0.95)
    assert claim.state == "supported"
    assert 0.02 < claim.failure_high < 0.03
    n = claim.worst.equivalents
    # with no failure quoted is the least favourable shape; one past the range may be a little worse
    worst = 1 - 0.05 ** (1 / n)
    assert worst * (1 - 1e-6) <= claim.failure_high <= 1.05 * worst
    assert claim.hidden_to_turn >= 1
