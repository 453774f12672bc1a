"""The grid of shapes that are mixed is that of a look at every shape of every grid before it.

Derivatives of a section are held against differences of the section itself.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fleetstats.bands.bayes.mixture import ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.bayes.shape_weights import FALL, ROUGH, ROUNDS, SHAPES, shapes_near
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells import Spells

Likelihood = Callable[[Array], Array]

ENDS = (float(np.log(0.05)), float(np.log(60.0)))


def looked_at_whole(
    likelihood: Likelihood, prior: ShapePrior, n_failed: Array, ends: tuple[float, float]
) -> Array:
    """Return the grid from looking at all shapes of every round."""
    low, high = ends
    for _ in range(ROUNDS):
        theta = np.linspace(low, high, ROUGH)
        bare = likelihood(theta)
        full = bare + prior.log_density(theta, n_failed)
        keeps = prior.stated | (n_failed <= 0.0)
        bare = np.where(keeps[:, None], full, bare)
        weighs = [x > x.max(axis=1, keepdims=True) + FALL for x in (bare, full)]
        at = np.flatnonzero((weighs[0] | weighs[1]).any(axis=0))
        low, high = theta[max(at[0] - 1, 0)], theta[min(at[-1] + 1, ROUGH - 1)]
    return np.linspace(low, high, SHAPES)


def fleet(n: int, shape: float, seed: int, *, checked: float = 0.0) -> Spells:
    """Return lives of one shape, a share of the failures found at checks of every 150 h."""
    rng = stream(seed, "shapes mixed")
    life, stop = 1500.0 * rng.weibull(shape, n) + 1e-6, rng.uniform(100.0, 2500.0, n)
    end, failed = np.minimum(life, stop), life < stop
    seen = failed & (rng.random(n) < checked)
    upper = np.where(seen, 150.0 * np.ceil(end / 150.0), end)
    lower = np.where(seen, upper - 150.0, end)
    return Spells.of(np.zeros(n), upper, failed, exit_lower=lower)


@pytest.mark.parametrize("stated", [False, True])
@pytest.mark.parametrize(("n", "shape"), [(3, 2.0), (30, 0.6), (200, 1.4), (200, 9.0), (5000, 3.0)])
@pytest.mark.parametrize("checked", [0.0, 0.5, 1.0])
def test_the_grid_is_that_of_all_shapes_looked_at(
    monkeypatch: pytest.MonkeyPatch, checked: float, n: int, shape: float, stated: bool
) -> None:
    prior = ShapePrior(median=2.5, log_sd=0.5, stated=stated)
    asked: list[int] = []

    def both(likelihood: Likelihood, *how: Any) -> Array:
        sizes: list[int] = []

        def counted(theta: Array) -> Array:
            sizes.append(len(theta))
            return likelihood(theta)

        got = shapes_near(counted, *how)
        np.testing.assert_array_equal(got, looked_at_whole(likelihood, *how))
        asked.append(sum(sizes))
        return got

    monkeypatch.setattr("fleetstats.bands.bayes.mixture.shapes_near", both)
    for seed in range(6):
        spells = fleet(n, shape, seed, checked=checked)
        if spells.n_failed:
            ShapeMixture.of_spells(spells, prior)
    # a look at few shapes would be no saving if all of them had to be looked at again
    assert asked
    assert max(asked) < 2 * ROUGH


@pytest.mark.parametrize("stated", [False, True])
def test_many_fleets_share_the_grid_of_all_shapes_looked_at(stated: bool) -> None:
    prior = ShapePrior(median=2.5, log_sd=0.5, stated=stated)
    rng = stream(4, "fleets that share a grid")
    life, stop = 1500.0 * rng.weibull(2.0, (40, 60)), rng.uniform(20.0, 2500.0, (40, 60))
    stop[:5] *= 0.05  # of these nothing, or one, failed
    sums = PowerSums.of_arrays(np.zeros_like(life), np.minimum(life, stop), life < stop)
    how = prior, sums.n_failed, (sums.low, sums.high)
    assert sums.n_failed.min() == 0.0
    np.testing.assert_array_equal(
        shapes_near(sums.profile, *how), looked_at_whole(sums.profile, *how)
    )


def test_what_only_one_grid_hits_sends_the_next_to_all_shapes() -> None:
    """A needle at a shape of the first grid alone hides from the second where the curve begins."""
    needle = np.linspace(*ENDS, ROUGH)[20]
    sizes = []

    def curve(theta: Array) -> Array:
        sizes.append(len(theta))
        hump = -40.0 * (theta - 1.0) ** 2
        return np.where(np.abs(theta - needle) < 1e-9, -10.0, hump)[None, :]

    how = ShapePrior(median=2.0, log_sd=9.0), np.array([1e6]), ENDS
    got = shapes_near(curve, *how)
    assert sizes.count(ROUGH) == 2
    np.testing.assert_array_equal(got, looked_at_whole(curve, *how))


@pytest.mark.parametrize("checked", [0.3, 1.0])
def test_slopes_of_a_section_are_those_of_its_heights(checked: float) -> None:
    surface = Surface.of_spells(fleet(60, 1.7, 3, checked=checked))
    theta = np.log([0.4, 1.0, 1.7, 3.0, 12.0])
    _, best, curvature = surface.sections(theta)
    for off in (-3.0, -0.5, 0.0, 0.7, 2.0):
        u = best + off
        power, gap = surface.log_power(theta), surface._log_gap(theta)
        first, second = surface._slopes(u, power, gap)
        below, at, above = (surface.log_likelihood(theta, u + d) for d in (-1e-3, 0.0, 1e-3))
        # differences err by their step squared
        np.testing.assert_allclose(first, (above - below) / 2e-3, rtol=1e-5, atol=1e-4)
        np.testing.assert_allclose(second, (above - 2.0 * at + below) / 1e-6, rtol=1e-3, atol=1e-3)
        if off == 0.0:
            np.testing.assert_allclose(first, 0.0, atol=1e-9)
            np.testing.assert_allclose(curvature, -second, rtol=1e-9)


def test_a_fleet_without_hours_survived_is_mixed_without_a_number_that_is_none() -> None:
    """Every failure is only known to lie before its check, at ages far apart: A is 0."""
    upper = np.array([1e-3, 5.0, 40.0, 900.0, 2000.0])
    spells = Spells.of(np.zeros(5), upper, np.ones(5), exit_lower=np.zeros(5))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        got = ShapeMixture.of_spells(spells, ShapePrior())
    assert np.isfinite(got.weight).all()
    assert np.isfinite(got.log_power).all()
    surface = Surface.of_spells(spells)
    u = np.linspace(-80.0, -1.0, 40)
    assert (surface._slopes(u, np.full(40, -745.0), np.zeros((40, 5)))[1] < 0.0).all()
