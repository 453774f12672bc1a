"""Fleets of a few lives, each step worked out here by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetstats.core import FitError
from fleetstats.core.errors import ArgumentError, NotConverged
from fleetstats.spells import Event, Spells
from fleetstats.survival import (
    estimate_cumulative_hazard,
    estimate_exposure,
    estimate_incidence,
    estimate_outer_band,
    estimate_plot_points,
    estimate_product_limit,
    estimate_turnbull,
)
from fleetstats.survival.counting.plotting import estimate_median_ranks

SIX = Spells.of(
    entry=[0, 0, 300, 0, 500, 0],
    exit=[400, 600, 700, 700, 900, 1200],
    failed=[1, 0, 1, 0, 1, 0],
)
"""(0,400] failed, (0,600] running, (300,700] failed, (0,700] running, (500,900] failed,
(0,1200] running.

At 400 h: seen before 400 and not yet ended are lives 1, 2, 3, 4 and 6, five; one fails: 4/5.
At 700 h: lives 3, 4, 5, 6, four; the failure goes before the running life of the same age: 3/4,
so 3/5. At 900 h: lives 5 and 6, two: 1/2, so 3/10.
"""


def test_product_limit() -> None:
    curve = estimate_product_limit(SIX, least_at_risk=1)
    assert curve.hours.tolist() == [400, 700, 900]
    assert curve.at_risk.tolist() == [5, 4, 2]
    assert curve.reliability == pytest.approx([4 / 5, 3 / 5, 3 / 10], rel=1e-14)
    # Greenwood: R sqrt(sum d / (n (n - d))) = R sqrt(1/20), R sqrt(1/20 + 1/12), ... + 1/2.
    assert curve.std_error == pytest.approx(
        [
            0.8 * math.sqrt(1 / 20),
            0.6 * math.sqrt(1 / 20 + 1 / 12),
            0.3 * math.sqrt(1 / 20 + 1 / 12 + 1 / 2),
        ],
        rel=1e-14,
    )
    assert curve.at([0, 399, 400, 699.9, 1200]).tolist() == pytest.approx([1, 1, 0.8, 0.8, 0.3])
    assert math.isnan(curve.at(1200.1))


def test_product_limit_from_a_well_populated_age() -> None:
    """Just after 0 h four lives are at risk, after 300 h five: with five asked for, start there."""
    curve = estimate_product_limit(SIX)
    assert curve.start_h == 300
    assert curve.reliability == pytest.approx([4 / 5, 3 / 5, 3 / 10], rel=1e-14)
    assert math.isnan(curve.at(299))
    never = estimate_product_limit(SIX, least_at_risk=7)
    assert [c.code for c in never.cautions] == ["thin-start"]
    assert never.start_h == 0


def test_cumulative_hazard() -> None:
    curve = estimate_cumulative_hazard(SIX, least_at_risk=1)
    assert curve.cumulative_hazard == pytest.approx([0.2, 0.45, 0.95], rel=1e-14)
    assert curve.std_error[-1] == pytest.approx(math.sqrt(1 / 25 + 1 / 16 + 1 / 4), rel=1e-14)


def test_nothing_failed() -> None:
    lives = Spells.of(np.zeros(6), np.arange(100.0, 700.0, 100.0), np.zeros(6))
    curve = estimate_product_limit(lives)
    assert len(curve.hours) == 0
    assert curve.at([50, 600]).tolist() == [1, 1]
    assert estimate_cumulative_hazard(lives).at(600) == 0
    assert len(estimate_plot_points(lives).hours) == 0
    assert len(estimate_turnbull(lives).mass) == 0
    assert estimate_outer_band(lives).limits_at(600)[0] == 1


def test_last_life_fails() -> None:
    """The curve falls to 0; no error and no limits can be told there."""
    lives = Spells.of([0, 0], [100, 200], [1, 1])
    curve = estimate_product_limit(lives, least_at_risk=1)
    assert curve.reliability.tolist() == [0.5, 0.0]
    assert math.isnan(curve.std_error[1])
    assert math.isnan(curve.low[1])


def test_exposure() -> None:
    """Bands 0-500, 500-1000, 1000-1500 h.

    0-500: lives 1, 2, 3, 4, 6 give 400 + 500 + 200 + 500 + 500 = 2,100 h, one failure; life 5
    enters at 500 h, after the band. 500-1000: 100 + 200 + 200 + 400 + 500 = 1,400 h, two failures,
    five lives. 1000-1500: 200 h, one life.
    """
    table = estimate_exposure(SIX, [0, 500, 1000, 1500], level=0.90)
    assert table.exposure_h.tolist() == [2100, 1400, 200]
    assert table.n_failed.tolist() == [1, 2, 0]
    assert table.n_lives.tolist() == [5, 5, 1]
    assert table.rate_per_h == pytest.approx([1 / 2100, 2 / 1400, 0])
    # No failures: upper one-sided 95 % limit of the mean is -log(0.05) = 2.9957.
    assert table.rate_low_per_h[2] == 0
    assert table.rate_high_per_h[2] == pytest.approx(-math.log(0.05) / 200, rel=1e-12)
    assert table.exposure_h.sum() == SIX.exposure_h
    assert estimate_exposure(SIX).exposure_h.sum() == pytest.approx(SIX.exposure_h)
    with pytest.raises(ArgumentError, match="rising"):
        estimate_exposure(SIX, [0, 500, 500])


def test_incidence_and_outer_band() -> None:
    """Five lives from new: failed 100, removed on a finding 200, running 300, failed 400, 500.

    Shares: at 100 1/5 failed; at 200 4/5 * 1/4 = 1/5 removed; R = 3/5, then two are left after the
    running life: at 400 3/5 * 1/2 = 3/10 failed; at 500 3/10 failed. Counting the removal as fair
    censoring: R = 4/5 until 400, 2/5 after. Outer: 1 - 1/5 - 1/5 = 3/5 to 4/5 at 200 h.
    """
    kinds = [Event.FAILED, Event.FINDING, Event.CENSORED, Event.FAILED, Event.FAILED]
    lives = Spells.of(np.zeros(5), [100, 200, 300, 400, 500], kinds)
    table = estimate_incidence(lives)
    assert table.labels == ("failed", "removed on a finding")
    assert table.at("failed", [100, 200, 400, 500]).tolist() == pytest.approx([0.2, 0.2, 0.5, 0.8])
    assert table.at("removed on a finding", 500) == pytest.approx(0.2)
    assert table.reliability[-1] == 0
    band = estimate_outer_band(lives)
    middle, (low, high) = band.at([200, 400]), band.limits_at([200, 400])
    assert low.tolist() == pytest.approx([0.6, 0.3])
    assert middle.tolist() == pytest.approx([0.8, 0.4])
    assert high.tolist() == pytest.approx([0.8, 0.5])
    with pytest.raises(ArgumentError, match="lost"):
        table.at("lost", 100)


def test_turnbull_of_three() -> None:
    """Failures in (0, 100], (50, 150], (120, 200].

    Innermost intervals: (50, 100], which lives 1 and 2 share, and (120, 150], which 2 and 3 share.
    With mass p in the first the likelihood is p * 1 * (1 - p), greatest at p = 1/2.
    """
    lives = Spells.of(np.zeros(3), [100, 150, 200], np.ones(3), exit_lower=[0, 50, 120])
    curve = estimate_turnbull(lives)
    assert curve.low_h.tolist() == [50, 120]
    assert curve.high_h.tolist() == [100, 150]
    assert curve.mass == pytest.approx([0.5, 0.5], rel=1e-9)
    assert curve.log_likelihood == pytest.approx(2 * math.log(0.5), rel=1e-9)
    low, high = curve.bounds([40, 75, 100, 130, 150])
    assert low.tolist() == pytest.approx([1, 0.5, 0.5, 0, 0], abs=1e-9)
    assert high.tolist() == pytest.approx([1, 1, 0.5, 0.5, 0], abs=1e-9)


def test_turnbull_with_delayed_entry() -> None:
    """One life (0, 100] found failed after 40 h; one seen from 60 h and sound at 200 h.

    Before 60 h the second life was not watched, so mass in (40, 60] costs it nothing: the failure
    lies there, and the first life's likelihood is 1.
    """
    lives = Spells.of([0, 60], [100, 200], [1, 0], exit_lower=[40, 200])
    curve = estimate_turnbull(lives)
    assert curve.low_h.tolist() == [40]
    assert curve.high_h.tolist() == [60]
    assert curve.log_likelihood == pytest.approx(0.0, abs=1e-12)
    # The other life was watched later: the curve has nothing left for it, and says so.
    assert "the curve is 0 from there and says nothing of lives watched later" in curve.note
    assert curve.unique


def test_turnbull_of_exact_ages_is_the_product_limit() -> None:
    curve = estimate_turnbull(SIX)
    assert curve.low_h.tolist() == curve.high_h.tolist() == [400, 700, 900]
    assert curve.reliability == pytest.approx([4 / 5, 3 / 5, 3 / 10], rel=1e-9)


def test_plot_points() -> None:
    """Half-way down the steps of 1, 4/5, 3/5, 3/10: 0.1, 0.3, 0.55."""
    points = estimate_plot_points(SIX)
    assert points.failure_probability == pytest.approx([0.1, 0.3, 0.55])
    assert points.log_minus_log[0] == pytest.approx(math.log(-math.log(0.9)))
    assert points.start_h == 300


def test_plot_points_without_an_interval_estimate(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the interval estimate does not settle the product limit stands in, and says so."""

    def never(spells: Spells) -> None:
        raise NotConverged("The interval estimate did not settle.", "Look at the weights.")

    monkeypatch.setattr("fleetstats.survival.counting.plotting.estimate_turnbull", never)
    lives = Spells.of(np.zeros(3), [100, 150, 200], np.ones(3), exit_lower=[0, 50, 120])
    points = estimate_plot_points(lives)
    assert points.hours.tolist() == [50, 100, 160]
    assert "mid-interval, since" in points.note


def test_plot_points_beside_a_fit() -> None:
    from fleetstats.survival import fit_weibull

    fit = fit_weibull(SIX)
    points = estimate_plot_points(SIX)
    reached = float(fit.reliability(300))
    assert points.beside(fit).failure_probability[0] == pytest.approx(1 - reached * 0.9)


def test_johnson_ranks() -> None:
    """Five lives: failed 100, running 150, failed 200, failed 300, running 300.

    Ranks: 1; then (6 - 1) / (1 + 3) = 1.25 more, 2.25; then (6 - 2.25) / (1 + 2) = 1.25, 3.5. The
    failure at 300 h goes before the running life of the same age.
    """
    lives = Spells.of(np.zeros(5), [100, 150, 200, 300, 300], [1, 0, 1, 1, 0])
    ranks = estimate_median_ranks(lives, method="benard")
    assert ranks.rank.tolist() == [1, 2.25, 3.5]
    assert ranks.failure_probability == pytest.approx([0.7 / 5.4, 1.95 / 5.4, 3.2 / 5.4])
    with pytest.raises(FitError, match="delayed entry"):
        estimate_median_ranks(SIX)
