"""Refits of fleets whose failures were found at checks: the maximum itself, fleet by fleet."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fleetstats.bands.likelihood.family_rows import weighted_log_likelihood
from fleetstats.bands.resampling import refit_gaps as gaps_module
from fleetstats.bands.resampling import weights as weights_module
from fleetstats.bands.resampling.refit import refit
from fleetstats.bands.resampling.refit_gaps import refit_between_checks
from fleetstats.bands.resampling.refit_newton import refit_by_newton
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.spells import Spells


def fleet(n: int = 60, *, share: float = 0.5, late: bool = True, seed: int = 1) -> Spells:
    """Return lives of shape 2.5, most censored, a share of the failures found at checks."""
    rng = np.random.default_rng(seed)
    life = 1000.0 * rng.weibull(2.5, n)
    stop = rng.uniform(200.0, 1100.0, n)
    entry = np.where(rng.random(n) < 0.3, 0.4 * np.minimum(life, stop), 0.0) * late
    failed = life <= stop
    end = np.minimum(life, stop)
    seen = failed & (rng.random(n) < share)
    lower = np.where(seen, np.maximum(np.floor(end / 50.0) * 50.0, entry), end)
    upper = np.where(seen, np.ceil(end / 50.0) * 50.0, end)
    return Spells.of(entry, upper, failed, exit_lower=lower)


def no_check_before(spells: Spells) -> Spells:
    """Return the fleet with every other failure known only to lie before its end."""
    blind = spells.failed & (np.cumsum(spells.failed) % 2 == 0)
    return spells.replace(exit_lower=np.where(blind, spells.entry, spells.exit_lower))


CASES = {
    "mixed": fleet(),
    "from-new": fleet(late=False),
    "all-at-checks": fleet(share=1.0),
    "half-never-checked": no_check_before(fleet(share=0.5)),
    "weighted": fleet().replace(weight=np.tile([1.0, 3.0], 30)),
    "few": fleet(25, seed=4),
}


@pytest.mark.parametrize("scheme", ["fractional", "poisson"])
@pytest.mark.parametrize("name", CASES)
def test_each_draw_is_at_the_top_of_its_own_likelihood(name: str, scheme: str) -> None:
    spells = CASES[name]
    plan = Resampling.of_spells(spells, 40, seed=7, scheme=scheme)
    estimate, done, _ = refit_between_checks(spells, plan, range(plan.n_blocks))
    other, other_done = refit_by_newton(spells, plan, "weibull", range(plan.n_blocks))
    np.testing.assert_array_equal(done, other_done)
    assert done.sum() > 20
    np.testing.assert_allclose(estimate[done], other[done], rtol=3e-6)
    weights = plan.weights_of(0)
    ours, theirs = (
        weighted_log_likelihood(spells, "weibull", e[done].T, weights[done])
        for e in (estimate, other)
    )
    assert np.all(ours >= theirs - 1e-12 * np.abs(theirs))


def test_draws_do_not_depend_on_how_many_are_asked_for_nor_on_the_order_of_rows() -> None:
    spells = CASES["mixed"]
    many, few = refit(spells, 1100, seed=5), refit(spells, 30, seed=5)
    np.testing.assert_allclose(few.estimate, many.estimate[:30], rtol=1e-9)
    back = refit(spells.select(np.arange(len(spells))[::-1]), 30, seed=5)
    np.testing.assert_allclose(back.estimate, few.estimate, rtol=1e-9)


def test_a_closing_interval_becomes_an_exact_failure() -> None:
    spells = CASES["from-new"]
    middle = 0.5 * (spells.exit_lower + spells.exit_upper)
    exact = spells.replace(exit_lower=middle, exit_upper=middle)
    half = 1e-4 * spells.failed
    near = spells.replace(exit_lower=middle - half, exit_upper=middle + half)
    a, b = refit(exact, 50, seed=2), refit(near, 50, seed=2)
    np.testing.assert_allclose(a.estimate, b.estimate, rtol=1e-5)


def test_draws_far_off_are_sought_another_way_and_found() -> None:
    spells = fleet(12, seed=9)
    draws = refit(spells, 400, seed=3, scheme="poisson")
    assert 0 < draws.n_direct < 400
    plan = Resampling.of_spells(spells, 400, seed=3, scheme="poisson")
    other, done = refit_by_newton(spells, plan, "weibull", range(plan.n_blocks))
    np.testing.assert_array_equal(draws.converged, done)
    np.testing.assert_allclose(draws.estimate[done], other[done], rtol=1e-5)


def test_draws_are_the_same_to_the_bit_however_blocks_are_shared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(weights_module, "DRAW_BLOCK", 32)
    monkeypatch.setattr(gaps_module, "CELLS", 500)
    spells = fleet(12, seed=9)
    plan = Resampling.of_spells(spells, 200, seed=3, scheme="poisson")
    whole = refit_between_checks(spells, plan, range(7))
    for cuts in ((0, 1, 7), (0, 2, 4, 6, 7)):
        parts = [
            refit_between_checks(spells, plan, range(a, b)) for a, b in itertools.pairwise(cuts)
        ]
        assert np.array_equal(np.concatenate([p[0] for p in parts]), whole[0], equal_nan=True)
        assert sum(p[2] for p in parts) == whole[2] > 0
