"""Limits of the power law hold what they promise, and say when they cannot."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special

from fleetstats.spells.histories import Histories
from fleetstats.survival.recurrent.power_law import fit_power_law, watched
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative
from fleetstats.survival.recurrent.trend import estimate_trend


def simulate(rng, shape: float, mean: float, ends: np.ndarray) -> Histories:
    unit = [f"s{i}" for i in range(len(ends))]
    events, names = [], []
    for u, end in zip(unit, ends, strict=True):
        n = rng.poisson(mean * (end / ends.max()) ** shape)
        events += (end * rng.random(n) ** (1 / shape)).tolist()
        names += [u] * n
    return Histories.of(unit, np.zeros(len(ends)), ends, names, events)


def test_end_of_watch_limits_solve_their_equation() -> None:
    """Ended by hours: P(N >= n | s) at the lower intensity is the tail, with Bessel I1 below it.

    The law of N given s is x^k / (k! (k-1)!) over sqrt(x) I1(2 sqrt(x)), x = intensity T s.
    """
    t, end, tail = np.array([20.0, 50.0, 90.0]), 100.0, 0.05
    fit = fit_power_law(Histories.of(["a"], [0], [end], ["a"] * 3, t), level=0.90)
    s = np.log(end / t).sum()
    for mtbf, kind in ((fit.mtbf_high_h, "at least"), (fit.mtbf_low_h, "at most")):
        x = s * end / mtbf
        whole = np.sqrt(x) * special.iv(1, 2 * np.sqrt(x))
        p = [x**k / special.gamma(k + 1) / special.gamma(k) / whole for k in (1, 2, 3)]
        got = 1 - p[0] - p[1] if kind == "at least" else sum(p)
        assert got == pytest.approx(tail, rel=1e-8)


def test_exact_limits_hold_their_level_over_systems_with_different_ends() -> None:
    rng = np.random.default_rng(11)
    ends = np.array([300.0, 800.0, 1000.0])
    held, n = 0, 0
    for _ in range(250):
        h = simulate(rng, 1.6, 4.0, ends)
        if len(h.event_h) < 1:
            continue
        fit = fit_power_law(h, level=0.90)
        held += fit.shape_low <= 1.6 <= fit.shape_high
        n += 1
    # 0.90 with three binomial standard errors of 0.019.
    assert n > 240
    assert abs(held / n - 0.90) < 0.057


def test_a_busy_engine_with_a_short_watch_does_not_pull_the_shape_out_of_its_limits() -> None:
    """Steady events, but 30 in each short watch and 3 in each long one: the pace never changes.

    One law for all must read the difference between engines as thinning out with age.
    """
    at = (np.arange(30) + 0.5) / 30
    units = [*("short" + c for c in "abc"), *("long" + c for c in "abcdef")]
    ends = np.array([100.0] * 3 + [1000.0] * 6)
    names = np.repeat(units, [30] * 3 + [3] * 6)
    hours = np.concatenate([*[100.0 * at] * 3, *[1000.0 * np.array([1, 3, 5]) / 6] * 6])
    fit = fit_power_law(Histories.of(units, np.zeros(9), ends, names, hours), level=0.90)
    assert fit.shape < 0.5  # what one law for all reads into them
    assert fit.paces_differ
    s = float(np.log(np.repeat(ends, [30] * 3 + [3] * 6) / hours).sum())
    assert fit.shape_within == pytest.approx(108 / s, rel=1e-12)
    assert fit.shape_low < fit.shape_within < fit.shape_high
    same = fit_power_law(Histories.of(["a"], [0.0], [100.0], ["a"] * 30, 100.0 * at))
    assert same.shape_within == pytest.approx(same.shape, rel=1e-9)
    assert not same.paces_differ


def test_trend_tests_hold_their_level_and_see_a_trend() -> None:
    rng = np.random.default_rng(3)
    ends = rng.uniform(500, 1500, 12)
    steady = [estimate_trend(simulate(rng, 1.0, 3.0, ends)) for _ in range(300)]
    assert np.mean([t.laplace_p < 0.05 for t in steady]) < 0.05 + 3 * 0.0126
    assert np.mean([t.handbook_p < 0.05 for t in steady]) < 0.05 + 3 * 0.0126
    rising = [estimate_trend(simulate(rng, 2.5, 10.0, ends)) for _ in range(30)]
    assert np.mean([t.direction == "faster" for t in rising]) > 0.9


def test_one_bad_engine_fools_laplace_but_not_the_robust_test() -> None:
    """All late events on one engine: the plain test sees a trend of the fleet, the robust none."""
    unit = [f"e{i}" for i in range(10)]
    names = ["e0"] * 12 + unit
    hours = [*np.linspace(80, 99, 12), *np.linspace(5, 95, 10)]
    trend = estimate_trend(Histories.of(unit, [0] * 10, [100] * 10, names, hours))
    assert trend.laplace_p < 0.01
    assert trend.robust_p > 0.05
    assert trend.direction == "steady"


def test_cautions_name_few_events_and_few_engines() -> None:
    unit = [f"e{i}" for i in range(10)]
    few = estimate_mean_cumulative(Histories.of(unit, [0] * 10, [100] * 10, ["e1"], [50]))
    assert [c.code for c in few.cautions] == ["few-failures"]
    names = ["e0"] * 8 + ["e1", "e2", "e3"]
    one = estimate_mean_cumulative(
        Histories.of(unit, [0] * 10, [100] * 10, names, np.linspace(5, 95, 11))
    )
    assert [c.code for c in one.cautions] == ["one-unit"]
    empty = estimate_mean_cumulative(Histories.of(unit, [0] * 10, [100] * 10, [], []))
    assert len(empty.hours) == 0
    assert "no events" in repr(empty)


def test_beyond_the_last_hours_watched_the_curve_says_nothing() -> None:
    """Our own rule, no outside source: nobody was watched there, and a flat tail would say 0."""
    h = Histories.of(["a", "b"], [0, 0], [800.0, 1000.0], ["a", "b"], [300.0, 600.0])
    curve = estimate_mean_cumulative(h)
    at = curve.at([100.0, 700.0, 1000.0, 1000.1])
    assert curve.last_h == 1000.0
    assert at[:3].tolist() == [0.0, 1.0, 1.0]
    assert np.isnan(at[3])
    assert np.isnan(curve.limits_at(1000.1)).all()


def test_robust_limits_hold_where_engines_differ() -> None:
    """Engines differ in pace by a gamma factor: the robust 90 % limits hold, Poisson's do not."""
    rng = np.random.default_rng(8)
    unit = [f"e{i}" for i in range(40)]
    held, poisson = [], []
    for _ in range(250):
        pace = rng.gamma(1.5, 1 / 1.5, 40) * 2.0
        n = rng.poisson(pace)
        names = np.repeat(unit, n)
        h = Histories.of(unit, [0] * 40, [100.0] * 40, names, rng.uniform(0, 100, n.sum()))
        curve = estimate_mean_cumulative(h, level=0.90)
        held.append(curve.low[-1] <= 2.0 <= curve.high[-1])
        se = np.sqrt(n.sum()) / 40
        poisson.append(abs(curve.mean[-1] - 2.0) < 1.645 * se)
    assert np.mean(held) > 0.90 - 3 * 0.019
    assert np.mean(poisson) < 0.80


def test_each_event_is_laid_to_the_stretch_that_holds_it() -> None:
    """Engine by engine and stretch by stretch; at the end of one and the start of the next: one."""
    rng = np.random.default_rng(5)
    unit, start, end, event_unit, event = [], [], [], [], []
    for name in ("b", "a", "c", "no events"):
        edges = np.sort(rng.choice(np.arange(1, 200), 8, replace=False)).astype(float)
        edges[2] = edges[1]  # two stretches that adjoin are one
        for low, high in edges.reshape(4, 2)[[2, 0, 3, 1]]:
            unit.append(name)
            start.append(low)
            end.append(high)
            if name != "no events":
                event_unit += [name] * 3
                event += [high, 0.5 * (low + high), low + 0.1 * (high - low)]
    h = Histories.of(unit, start, end, event_unit, event)
    w = watched(h, "time")
    assert w.n_systems == 4
    assert len(w.start) == 12
    for k, (u, t) in enumerate(zip(h.event_unit, h.event_h, strict=True)):
        mine = [(a, b) for x, a, b in zip(h.unit, h.start_h, h.end_h, strict=True) if x == u]
        joined = [(a, b) for a, b in mine if a < t <= b]
        grown = [
            (min([a, *(x for x, y in mine if y == a)]), max([b, *(y for x, y in mine if x == b)]))
            for a, b in joined
        ]
        assert [(w.event_start[k], w.event_end[k])] == grown
