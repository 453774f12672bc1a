"""Bands of a whole curve: critical values, the published case, and how often they hold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetstats.core.errors import ArgumentError, FitError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival.counting.brownian_bounds import (
    chance_bridge_within,
    critical_bridge,
    critical_scaled_bridge,
)
from fleetstats.survival.counting.product_limit import estimate_product_limit
from fleetstats.survival.counting.simultaneous import METHODS, estimate_simultaneous_band


def test_the_whole_bridge_has_the_law_of_kolmogorov() -> None:
    # scipy.stats.kstwobign is the same law; 1.2238, 1.3581, 1.6276 are its textbook quantiles.
    from scipy import stats

    for level in (0.90, 0.95, 0.99):
        assert critical_bridge(level, 0.0, 1.0) == pytest.approx(
            stats.kstwobign.ppf(level), abs=1e-8
        )


def test_a_part_of_the_bridge_has_the_published_bound() -> None:
    # Klein & Moeschberger (2003), table C.4, from memory: k(0.05; 0.1, 0.6) = 1.3211.
    assert critical_bridge(0.95, 0.1, 0.6) == pytest.approx(1.3211, abs=5e-5)


def test_the_scaled_bridge_agrees_with_the_approximation_it_replaces() -> None:
    # Nair (1984) solves 4 phi(c)/c + phi(c) (c - 1/c) log(odds) = alpha, an approximation for small
    # alpha; the root from 0.1 to 0.6 is the 2.8826 of Klein & Moeschberger, table C.3 (from memory)
    from scipy import optimize

    odds = math.log(0.6 * 0.9 / (0.1 * 0.4))

    def tail(c: float) -> float:
        density = math.exp(-0.5 * c * c) / math.sqrt(2.0 * math.pi)
        return density * (4.0 / c + (c - 1.0 / c) * odds) - 0.05

    root = optimize.brentq(tail, 1.5, 5.0)
    assert root == pytest.approx(2.8826, abs=5e-5)
    assert critical_scaled_bridge(0.95, 0.1, 0.6) == pytest.approx(root, abs=0.006)


def test_a_short_range_is_nearly_pointwise_and_a_shorter_one_is_refused() -> None:
    # At one age the bound of the scaled bridge is the normal quantile, of the plain one times sd.
    assert 1.96 < critical_scaled_bridge(0.95, 0.3, 0.301) < 2.05
    assert 1.96 < critical_bridge(0.95, 0.3, 0.301) / 0.21**0.5 < 2.05
    for bound in (critical_bridge, critical_scaled_bridge):
        with pytest.raises(FitError, match="no less than a thousandth"):
            bound(0.95, 0.3, 0.3001)


def test_the_bounds_hold_for_bridges_drawn() -> None:
    rng = stream(5, "bridges")
    steps = 1000
    u = np.linspace(0.0, 1.0, steps + 1)
    walk = np.concatenate(
        [np.zeros((2000, 1)), np.cumsum(rng.normal(size=(2000, steps)), axis=1)], axis=1
    ) / math.sqrt(steps)
    bridge = np.abs(walk - u * walk[:, -1:])[:, 100:601]
    u = u[100:601]
    plain = (bridge.max(axis=1) <= 1.0).mean()
    assert plain == pytest.approx(chance_bridge_within(1.0, 0.1, 0.6), abs=0.035)
    scaled = (bridge / np.sqrt(u * (1.0 - u))).max(axis=1)
    # a walk in steps misses what lies between them, so it keeps within a little oftener
    assert 0.88 < (scaled <= critical_scaled_bridge(0.90, 0.1, 0.6)).mean() < 0.935


def test_the_published_band_is_met() -> None:
    # Klein & Moeschberger (2003), examples 4.2 and 4.3: 38 patients with ALL, table 1.3 (times
    # and answers from memory): over 100 to 600 days a is 0.1 to 0.6, as in their tables.
    died = [1, 55, 74, 86, 104, 107, 109, 110, 122, 122, 129, 172, 192, 194, 230, 276, 332, 383]
    died += [418, 466, 487, 526, 609, 662]
    alive = [226, 530, 996, 1111, 1167, 1182, 1199, 1330, 1377, 1433, 1462, 1496, 1602, 2081]
    ages, ended = np.array(died + alive, dtype=float), [1] * len(died) + [0] * len(alive)
    assert len(ages) == 38
    band = estimate_simultaneous_band(
        Spells.of(0, ages, ended), level=0.95, from_h=100, to_h=600, method="hall-wellner",
        transform="linear", least_at_risk=1,
    )  # fmt: skip
    assert (round(band.share_from, 1), round(band.share_to, 1)) == (0.1, 0.6)
    assert band.critical == pytest.approx(1.3211, abs=3e-3)  # theirs by shares of one decimal
    assert band.at(332.0) == pytest.approx(0.5492, abs=5e-5)
    # by hand: 0.5492 * k * (1 + 38 v) / sqrt(38), v from Greenwood's 0.0812 / 0.5492
    half = 0.5492 * band.critical * (1.0 + 38.0 * (0.0812 / 0.5492) ** 2) / 38.0**0.5
    assert band.limits_at(332.0)[0] == pytest.approx(0.5492 - half, abs=5e-4)


def test_edges_keep_the_pointwise_shape_and_end_with_the_range() -> None:
    rng = stream(3, "band")
    lives = Spells.of(0, rng.weibull(2.0, 60) * 1000.0, rng.random(60) < 0.6)
    band = estimate_simultaneous_band(lives, level=0.90)
    point = estimate_product_limit(lives, level=0.90)
    low, high = point.limits_at(band.hours)
    assert (band.low < low).all()
    assert (band.high > high).all()
    outside = [band.from_h - 1.0, band.to_h + 1.0]
    assert np.isnan(band.at(outside)).all()
    assert np.isnan(band.limits_at(outside)).all()


@pytest.mark.parametrize("method", METHODS)
def test_bands_hold_over_the_whole_range_with_delayed_entry(method: str) -> None:
    # 400 fleets of a Weibull (shape 2, scale 1000 h), a third of the engines from 100 to 500 h on:
    # 90 % of whole curves within; the error of 400 is 1.5 %, so three of them either way.
    rng = stream(16, "whole curve", METHODS.index(method))
    held = 0
    for _ in range(400):
        entry = np.where(rng.random(150) < 1 / 3, rng.uniform(100.0, 500.0, 150), 0.0)
        life = 1000.0 * np.sqrt((entry / 1000.0) ** 2 + rng.exponential(size=150))
        seen = entry + rng.uniform(200.0, 1500.0, 150)
        lives = Spells.of(entry, np.minimum(life, seen), life <= seen)
        band = estimate_simultaneous_band(
            lives, method=method, level=0.90, from_h=300.0, to_h=1100.0, least_at_risk=1
        )
        # between two failures the truth falls: both sides of each step are looked at
        after = np.exp(-((band.hours / 1000.0) ** 2))
        before = np.exp(-((np.append(band.hours[1:], band.to_h) / 1000.0) ** 2))
        held += bool((band.low <= before).all() and (after <= band.high).all())
    assert 0.90 - 0.045 < held / 400 < 0.90 + 0.045


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"from_h": 10.0}, "the curve is between"),
        ({"from_h": 900.0, "to_h": 400.0}, "No band from 900 h"),
    ],
)
def test_wrong_ranges_are_refused(words: dict[str, float], told: str) -> None:
    lives = Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    with pytest.raises((FitError, ArgumentError), match=told):
        estimate_simultaneous_band(lives, least_at_risk=1, **words)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"method": "nair"}, "^method = 'nair'"),
        ({"transform": "logit"}, "^transform = 'logit'"),
        ({"level": 95.0}, "^level = 95"),
    ],
)
def test_wrong_words_and_levels_are_refused(words: dict[str, object], told: str) -> None:
    lives = Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    with pytest.raises(ArgumentError, match=told):
        estimate_simultaneous_band(lives, least_at_risk=1, **words)  # type: ignore[arg-type]
