"""A season drawn group by group has the law of one drawn engine by engine.

Margins are five standard errors of 4,000 seasons, so that one run in about a million fails.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.season_paths import (
    MANY,
    PATHS,
    Alike,
    engine_by_engine,
    group_by_group,
    season_ends,
)

SHARE = np.array([0.25, 0.5, 1.0])


@pytest.fixture(scope="module")
def fleet() -> tuple[LifeCurves, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    hours = np.linspace(5.0, 20_000.0, 120)
    shape, scale_h = rng.uniform(1.0, 3.0, 40), rng.uniform(1500.0, 2500.0, 40)
    log_hazard = shape[:, None] * (np.log(hours) - np.log(scale_h)[:, None])
    draws = LifeCurves(
        hours=hours, log_hazard=log_hazard, factor=rng.uniform(0.6, 1.8, 40), method="", why=""
    )
    return draws, rng.uniform(0.0, 1500.0, 60), rng.uniform(0.0, 1500.0, 60)


def _alike(a: np.ndarray, b: np.ndarray) -> None:
    sd = max(a.std(), b.std())
    assert a.mean() == pytest.approx(b.mean(), abs=5 * sd * np.sqrt(2 / PATHS))
    assert a.std() == pytest.approx(b.std(), abs=5 * sd / np.sqrt(PATHS))


def test_failures_by_group_are_those_of_each_engine(fleet):
    draws, age, width = fleet
    each = engine_by_engine(draws, age, width, SHARE, np.random.default_rng(1))
    grouped = group_by_group(draws, age, width, SHARE, np.random.default_rng(2))
    assert (np.diff(grouped, axis=1) >= 0).all()
    for a, b in zip(each.T, grouped.T, strict=True):
        _alike(a, b)
    _alike(each[:, 2] - each[:, 0], grouped[:, 2] - grouped[:, 0])
    expected = draws.conditional_failure(age, width).mean(axis=0).sum()
    assert grouped[:, 2].mean() == pytest.approx(expected, abs=5 * grouped[:, 2].std() / PATHS**0.5)


@pytest.mark.parametrize("rare", [1.0, 200.0])
def test_groups_of_many_engines_keep_mean_and_variance(fleet, rare):
    """Worked out, not drawn: a season's months from cells and groups against every engine."""
    draws = fleet[0].times(1.0 / rare)
    rng = np.random.default_rng(12)
    age, width = rng.uniform(0.0, 1500.0, 9_000), rng.gamma(2.0, 100.0, 9_000)
    whole = draws.conditional_failure(age, width)
    alike = Alike.of(whole.mean(axis=0), age)
    assert alike.of_groups(whole) @ alike.size == pytest.approx(whole.sum(axis=1), rel=1e-12)
    for share in SHARE:
        each = draws.conditional_failure(age, share * width)
        middle = draws.conditional_failure(alike.of_cells(age), share * alike.of_cells(width))
        group = alike.over_cells(middle)
        assert group @ alike.size == pytest.approx(each.sum(axis=1), rel=2e-3)
        # the laws' shapes go from 1 to 3, and so what they hold for alike; even so the variance is
        # off by less than the chance of that many seasons moves it
        spread = (group * (1.0 - group)) @ alike.size
        assert spread == pytest.approx((each * (1.0 - each)).sum(axis=1), rel=np.sqrt(2 / PATHS))


def test_all_engines_alike_are_one_group(fleet):
    draws = fleet[0]
    age, width = np.full(200, 900.0), np.full(200, 80.0)
    paths = group_by_group(draws, age, width, SHARE, np.random.default_rng(7))
    each = engine_by_engine(draws, age, width, SHARE, np.random.default_rng(8))
    _alike(paths[:, 2], each[:, 2])
    none = group_by_group(draws, age, 0.0 * width, SHARE, np.random.default_rng(7))
    assert not none.any()


def test_failures_and_overhauls_of_many_engines_are_those_of_each(fleet):
    draws, age, width = fleet
    times = -(-MANY // len(age))  # rounded up
    due = np.arange(len(age)) % 3 == 0
    many = [np.tile(x, times) for x in (age, width / 10.0, due)]
    few = [x[: MANY - 1] for x in many]
    a = season_ends(draws, *few, np.random.default_rng(3))
    b = season_ends(draws, *many, np.random.default_rng(4))
    size = len(many[0]) / (MANY - 1)
    assert len(many[0]) >= MANY
    for x, y in zip(a, b, strict=True):
        assert y.mean() == pytest.approx(x.mean() * size, rel=0.03)
        assert y.std() == pytest.approx(x.std() * size, rel=0.08)
