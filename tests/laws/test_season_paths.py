"""A season drawn by its failures alone has the law of one drawn engine by engine.

Margins are five standard errors of 4,000 seasons, so that one run in about a million fails.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead import season_paths
from fleetstats.chapters.ahead.season_paths import (
    MANY,
    PATHS,
    engine_by_engine,
    failures_alone,
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
    # few engines, and long seasons: many events then fall on an engine that failed before
    return draws, rng.uniform(0.0, 1500.0, 60), rng.uniform(0.0, 1500.0, 60)


def _alike(a: np.ndarray, b: np.ndarray) -> None:
    sd = max(a.std(), b.std())
    assert a.mean() == pytest.approx(b.mean(), abs=5 * sd * np.sqrt(2 / PATHS))
    assert a.std() == pytest.approx(b.std(), abs=5 * sd / np.sqrt(PATHS))


@pytest.mark.parametrize("few_fail", [0.1, 1e9])
def test_failures_alone_are_those_of_each_engine(fleet, monkeypatch, few_fail):
    monkeypatch.setattr(season_paths, "FEW_FAIL", few_fail)
    draws, age, width = fleet
    each = engine_by_engine(draws, age, width, SHARE, np.random.default_rng(1))
    alone = failures_alone(draws, age, width, SHARE, np.random.default_rng(2))
    assert (np.diff(alone, axis=1) >= 0).all()
    for a, b in zip(each.T, alone.T, strict=True):
        _alike(a, b)
    _alike(each[:, 2] - each[:, 0], alone[:, 2] - alone[:, 0])
    expected = draws.conditional_failure(age, width).mean(axis=0).sum()
    assert alone[:, 2].mean() == pytest.approx(expected, abs=5 * alone[:, 2].std() / PATHS**0.5)


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
