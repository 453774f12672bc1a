"""A line of a watch: its bound holds the stated chance, and its figures are sums done by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from watch_boundary import false_alarms

from fleetstats.core.errors import FitError
from fleetstats.survival.change.boundary import CHANCES, boundary, greatest_ratio
from fleetstats.survival.change.shares import Lines
from fleetstats.survival.change.watching import watch_line


@pytest.mark.parametrize(("mean", "ratio"), [(0.5, 0.1), (2.0, 0.2), (20.0, 0.2), (3.0, 1.0)])
def test_the_bound_is_passed_by_chance_as_seldom_as_stated(mean, ratio):
    held = false_alarms(mean, ratio, 8000, seed=77)
    error = 3.0 * np.sqrt(np.array(CHANCES) / 8000)  # three standard errors of the simulation
    assert (held <= np.array(CHANCES) + error).all()


def test_a_smaller_chance_asks_for_more_and_a_bare_baseline_for_less():
    assert boundary(0.05, 5, 0.2) < boundary(0.01, 5, 0.2) < boundary(0.0001, 5, 0.2)
    assert boundary(0.01, 0, 0.2) < boundary(0.01, 20, 0.2)
    assert boundary(0.001, 99, 0.2) - boundary(0.002, 99, 0.2) == pytest.approx(math.log(2))
    with pytest.raises(FitError):
        boundary(0.0, 1, 0.2)


def test_the_greatest_ratio_is_that_of_the_best_window():
    # none before, two failures at 0.5 and 0.6 of the baseline; the window of the second is 0.1
    told, first = greatest_ratio(np.array([0.0]), np.array([[0.5, 0.6]]), 1.2)
    assert told[0, 1] == pytest.approx(2 * math.log(1.6 / 0.1))
    assert first[0].tolist() == [0, 0]


def fleet(n_fail: int, gap_days: float = 20.0):
    """Return 100 lives of one year each in staggered years, some failing at the end of the last."""
    day = np.arange(100) * 36.0
    lives = Lines(entry_h=np.zeros(100), end_h=np.full(100, 200.0), entry_day=day,
                  end_day=day + 365.0, weight=np.ones(100))  # fmt: skip
    return lives, np.arange(100 - n_fail, 100)


def line(lives, failed, base):
    return watch_line(lives, failed, base_day=base, hours_ratio=0.2, months=12,
                      chances=(0.05, 0.005), seed=1, factors=())  # fmt: skip


def test_three_failures_of_a_new_kind_in_one_season_alarm_and_one_does_not():
    lives, failed = fleet(3)
    base = float(lives.end_day[-6])
    told = line(lives, failed, base)
    assert (told.n_before, told.n_since, told.state) == (0, 3, "alarm")
    assert told.expected == 0.0
    assert told.first_day == lives.end_day[failed[0]]
    assert line(lives, failed[-1:], base).state != "alarm"


def test_a_steady_rate_is_quiet_and_due_is_what_the_baseline_promises():
    lives, _ = fleet(0)
    failed = np.arange(9, 100, 10)  # every tenth life, all years alike
    base = float(lives.end_day[79])
    told = line(lives, failed, base)
    assert (told.n_before, told.n_since, told.state) == (8, 2, "quiet")
    # at 200 h 80 lives passed before and 20 since: 8 failures before promise 2
    assert told.expected == pytest.approx(2.0)


def test_a_watch_without_hours_before_it_is_refused():
    lives, failed = fleet(3)
    with pytest.raises(FitError, match="before the watch"):
        watch_line(lives, failed, base_day=0.0, hours_ratio=math.inf, months=12,
                   chances=(0.05, 0.005), seed=1)  # fmt: skip
