"""Recurrent events on three engines, every step worked out.

Engine A is watched from 0 to 10 h, B from 4 to 12 h (it joined late), C from 0 to 3 h and, after a
gap, from 6 to 8 h. Events: A at 2 and 8, B at 8, C at 7.

    age      2      7      8
    watched  A C    A B C  A B C   (open at the start, closed at the end: C still counts at 8)
    events   1      1      2
    step     1/2    1/3    2/3
    mean     1/2    5/6    3/2

Each engine's own departure from the mean, in shares of the watched, added up:

    A   (1 - 1/2)/2 = 1/4      -1/9          (1 - 2/3)/3 = 1/9    ->  1/4, 5/36, 1/4
    B   not watched            -1/9          (1 - 2/3)/3 = 1/9    ->  0, -1/9, 0
    C   -1/4                   (1 - 1/3)/3   -2/9                 ->  -1/4, -1/36, -1/4

Variance = sum of squares: 1/8; (25 + 16 + 1)/1296 = 7/216; 1/8.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetstats.chapters.recurrence.compute import rate_per_1000_h
from fleetstats.core.errors import ArgumentError, FitError
from fleetstats.spells.histories import Histories
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative, worst_engines
from fleetstats.survival.recurrent.trend import estimate_trend


@pytest.fixture
def three() -> Histories:
    return Histories.of(
        ["A", "B", "C", "C"],
        [0, 4, 0, 6],
        [10, 12, 3, 8],
        ["A", "A", "B", "C"],
        [2, 8, 8, 7],
        event_cost=[10, 30, 20, 40],
    )


def test_mean_and_robust_error(three: Histories) -> None:
    curve = estimate_mean_cumulative(three, level=0.90, min_at_risk=2)
    assert curve.hours == pytest.approx([2, 7, 8])
    assert curve.at_risk == pytest.approx([2, 3, 3])
    assert curve.mean == pytest.approx([1 / 2, 5 / 6, 3 / 2])
    assert curve.std_error**2 == pytest.approx([1 / 8, 7 / 216, 1 / 8])
    # Two engines are watched to 10 h, one beyond.
    assert curve.supported_to_h == 10
    z = 1.6448536269514722
    assert curve.high[2] == pytest.approx(1.5 * math.exp(z * math.sqrt(1 / 8) / 1.5))
    assert curve.low[2] * curve.high[2] == pytest.approx(1.5**2)
    assert curve.at([1.9, 2.0, 7.5]) == pytest.approx([0, 1 / 2, 5 / 6])


def test_costs_add_up(three: Histories) -> None:
    curve = estimate_mean_cumulative(three, of="cost")
    # 10/2; 40/3; 50/3
    assert curve.mean == pytest.approx([5, 55 / 3, 35])
    assert worst_engines(three, 1) == (("A", 2, 40.0, 10.0),)


def test_splitting_a_watch_changes_nothing(three: Histories) -> None:
    split = Histories.of(
        ["A", "A", "B", "C", "C"],
        [0, 5, 4, 0, 6],
        [5, 10, 12, 3, 8],
        ["A", "A", "B", "C"],
        [2, 8, 8, 7],
    )
    one = estimate_mean_cumulative(three)
    two = estimate_mean_cumulative(split)
    assert two.mean == pytest.approx(one.mean)
    assert two.std_error == pytest.approx(one.std_error)
    assert fit_power_law(split).shape == pytest.approx(fit_power_law(three).shape, rel=1e-10)


def test_trend_by_hand() -> None:
    """One system to 10 h, events at 1, 2 and 9: middle 5, so Laplace is (12 - 15)/sqrt(3 100/12).

    The handbook statistic is 2 (ln 10 + ln 5 + ln 10/9).
    """
    h = Histories.of(["A"], [0], [10], ["A"] * 3, [1, 2, 9])
    trend = estimate_trend(h)
    assert trend.laplace_u == pytest.approx(-3 / math.sqrt(3 * 100 / 12))
    assert trend.handbook_statistic == pytest.approx(2 * math.log(10 * 5 * 10 / 9))
    assert trend.handbook_df == 6
    assert trend.direction == "too-few"
    assert trend.robust_u is None
    fit = fit_power_law(h)
    assert fit.shape == pytest.approx(3 / math.log(10 * 5 * 10 / 9))
    assert fit.lam == pytest.approx(3 / 10**fit.shape)


def test_late_systems_have_profile_limits(three: Histories) -> None:
    fit = fit_power_law(three)
    assert not fit.exact
    assert fit.shape_low < fit.shape < fit.shape_high
    assert fit.shape_unbiased is None
    # At the maximum the slope is zero: 4/b + sum log t - 4 (d log A / d b).
    start, end = np.array([0, 4, 0, 6.0]), np.array([10, 12, 3, 8.0])

    def profile(b: float) -> float:
        a = (end**b - start**b).sum()
        return 4 * math.log(b) + b * math.log(2 * 8 * 8 * 7) - 4 * math.log(a)

    assert profile(fit.shape) > max(profile(fit.shape * 1.001), profile(fit.shape / 1.001))
    drop = 0.5 * 1.6448536269514722**2
    assert profile(fit.shape) - profile(fit.shape_low) == pytest.approx(drop, rel=1e-6)
    assert profile(fit.shape) - profile(fit.shape_high) == pytest.approx(drop, rel=1e-6)


def test_rate_over_engines() -> None:
    """Two engines of 100 h with 1 and 3 events: 20 per 1,000 h; departures -1 and +1."""
    h = Histories.of(["A", "B"], [0, 0], [100, 100], ["A", "B", "B", "B"], [5, 6, 7, 8])
    r = rate_per_1000_h(h, 0.90)
    assert r.estimate == pytest.approx(20)
    half = 1.6448536269514722 * math.sqrt(2) / 4
    assert r.high == pytest.approx(20 * math.exp(half))
    assert r.low == pytest.approx(20 * math.exp(-half))


def test_rate_without_events_has_the_exact_upper_limit() -> None:
    h = Histories.of(["A"], [0], [1000], [], [])
    r = rate_per_1000_h(h, 0.90)
    assert (r.estimate, r.low) == (0.0, 0.0)
    assert r.high == pytest.approx(-math.log(0.05))


def test_an_event_that_ended_the_watch_says_nothing_of_the_pace() -> None:
    """Three engines run to their first failure, with one earlier finding each, at mid-life.

    Counting the failures as events of the watch, all at its end, would show a rising pace.
    """
    names, hours = ["A", "A", "B", "B", "C", "C"], [50, 100, 100, 200, 150, 300]
    h = Histories.of(["A", "B", "C"], [0, 0, 0], [100, 200, 300], names, hours)
    trend = estimate_trend(h, fewest=1)
    assert trend.n_events == 3
    assert trend.laplace_u == pytest.approx(0.0)
    assert trend.handbook_df == 6
    assert trend.direction == "steady"
    fit = fit_power_law(h)
    assert fit.n_events == 6
    s = 3 * math.log(2)  # limits rest on the three events within the watch
    assert fit.shape_low == pytest.approx(0.8176915 / s, rel=1e-6)  # gamma(3) quantile at 5 %


@pytest.mark.parametrize(
    ("hours", "words"),
    [([], "No event"), ([10, 10], "very end")],
)
def test_what_has_no_answer_says_so(hours: list[float], words: str) -> None:
    h = Histories.of(["A"], [0], [10], ["A"] * len(hours), hours)
    with pytest.raises(FitError, match=words):
        fit_power_law(h)


def test_failure_terminated_needs_whole_histories(three: Histories) -> None:
    with pytest.raises(FitError, match="without gaps"):
        fit_power_law(three, terminated="failure")
    with pytest.raises(ArgumentError, match="lunch"):
        fit_power_law(three, terminated="lunch")
    with pytest.raises(ArgumentError, match="apples"):
        estimate_mean_cumulative(three, of="apples")
