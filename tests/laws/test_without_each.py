"""Fits without one engine, from sums made once, against fits of all the others."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.survival.weibull.weibull_kernel import solve_weibull
from fleetstats.survival.weibull.without_each import LEAST_LIVES, fits_without


def fleet(n: int, oldest_h: float = 2600.0) -> tuple[np.ndarray, ...]:
    """Return late entries, weights, and several rows to some engines (no source)."""
    rng = np.random.default_rng(4)
    stop = rng.uniform(50.0, 1500.0, n)
    entry = np.where(rng.random(n) < 0.4, stop * rng.uniform(0.0, 0.8, n), 0.0)
    life = 1400.0 * ((entry / 1400.0) ** 2 + rng.exponential(size=n)) ** 0.5
    end, failed = np.minimum(life, stop), life <= stop
    end[0], failed[0] = oldest_h, False
    return entry, end, failed, rng.integers(1, 3, n).astype(float)


def test_fits_without_one_are_those_of_the_others():
    entry, end, failed, weight = lives = fleet(LEAST_LIVES + 500)
    place = np.minimum(np.arange(len(end)), 2000)  # the last engine has 500 rows
    which = np.array([0, *np.flatnonzero(failed)[:9], 77, 1999])
    whole = solve_weibull(*lives)
    shape, scale_h = fits_without(lives, place, which, whole)
    for i, b, eta in zip(which, shape, scale_h, strict=True):
        rest = place != i
        one = solve_weibull(entry[rest], end[rest], failed[rest], weight[rest])
        assert b == pytest.approx(one.shape, rel=1e-11)
        assert eta == pytest.approx(one.scale_h, rel=1e-11)
        assert b != whole.shape


def test_what_one_engine_moves_far_is_left_to_a_fit():
    lives = fleet(LEAST_LIVES + 500, oldest_h=90_000.0)
    place = np.arange(len(lives[1]))
    shape, _ = fits_without(lives, place, np.array([0, 5]), solve_weibull(*lives))
    assert np.isnan(shape).tolist() == [True, False]
    few = tuple(x[: LEAST_LIVES - 1] for x in lives)
    assert np.isnan(fits_without(few, place[:-501], np.array([5]), solve_weibull(*few))[0]).all()
