"""Sums of very many weights drawn from their limit law, against each engine weighted by itself."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.resampling import limit_law
from fleetstats.bands.resampling.limit_law import LimitLaw, takes_limit
from fleetstats.bands.resampling.refit import refit
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.spells import Spells

DRAWS = 1000


def fleet(n: int, *, old: int = 0) -> Spells:
    """Return late entries, ages of many sizes, two rows to some engines; `old` are very old."""
    rng = np.random.default_rng(3)
    stop = rng.uniform(200.0, 1500.0, n)
    stop[:old] = 90_000.0
    entry = np.where(rng.random(n) < 0.4, stop * rng.uniform(0.0, 0.8, n), 0.0)
    life = 1500.0 * ((entry / 1500.0) ** 2 + rng.exponential(size=n)) ** 0.5
    life[:old] = stop[:old]
    unit = [f"E-{i % (n - 100)}" for i in range(n)]
    return Spells.of(entry, np.minimum(life, stop), life < stop, unit=unit)


@pytest.fixture(scope="module")
def both() -> tuple[np.ndarray, np.ndarray]:
    """Return logs of shape and scale (2, draws), by the limit law and engine by engine."""
    lives = fleet(20_500)
    made = []
    with pytest.MonkeyPatch.context() as patch:
        for many in (limit_law.MANY, 10**9):
            patch.setattr(limit_law, "MANY", many)
            draws = refit(lives, DRAWS, seed=5)
            assert draws.converged.all()
            made.append(np.log([draws.shape, draws.scale_h]))
    return made[0], made[1]


def test_draws_have_the_middle_and_the_doubt_of_weighted_engines(both):
    law, each = both
    assert not np.array_equal(law, each)
    sd = each.std(axis=1)
    # four standard errors of a difference of means, and of standard deviations
    assert np.all(np.abs(law.mean(axis=1) - each.mean(axis=1)) < 4.0 * sd * np.sqrt(2.0 / DRAWS))
    assert law.std(axis=1) == pytest.approx(sd, rel=4.0 / np.sqrt(DRAWS))
    rho = [np.corrcoef(x)[0, 1] for x in both]
    assert np.arctanh(rho[0]) == pytest.approx(np.arctanh(rho[1]), abs=4.0 * np.sqrt(2.0 / DRAWS))


@pytest.mark.parametrize("share", [0.05, 0.95])
def test_edges_of_bands_are_those_of_weighted_engines(both, share):
    law, each = ((x - x.mean(axis=1, keepdims=True)) / x.std(axis=1, keepdims=True) for x in both)
    ours, theirs = (np.quantile(x, share, axis=1) for x in (law, each))
    # a quantile's standard error at 5 % is 2.1 / sqrt(draws) of a standard deviation
    assert ours == pytest.approx(theirs, abs=4.0 * 2.1 * np.sqrt(2.0 / DRAWS))


def test_moments_of_the_law_are_those_of_its_terms():
    rng = np.random.default_rng(6)
    lives, terms = rng.integers(1, 4, 30_000).astype(float), rng.gamma(2.0, size=(30_000, 5))
    terms[:, 4] = terms[:, 0] - terms[:, 1]  # hangs on others
    law = LimitLaw.of_terms([(lives[:9000], terms[:9000]), (lives[9000:], terms[9000:])])
    assert law is not None
    assert law.mean == pytest.approx(lives @ terms, rel=1e-12)
    assert law.root.shape == (5, 4)
    assert law.root @ law.root.T == pytest.approx((terms.T * lives) @ terms, rel=1e-9)


def test_where_a_few_engines_rule_each_is_weighted(monkeypatch):
    lives = fleet(20_500, old=3)
    assert takes_limit(Resampling.of_spells(lives, 9, seed=5, scheme="fractional"))
    asked = refit(lives, 9, seed=5)
    monkeypatch.setattr(limit_law, "MANY", 10**9)
    assert refit(lives, 9, seed=5) == asked


def test_a_longer_run_begins_as_a_shorter_one_and_whole_weights_stay():
    lives = fleet(20_500)
    some, more = refit(lives, 9, seed=5), refit(lives, 1030, seed=5)
    assert some.estimate == pytest.approx(more.estimate[:9], rel=1e-9)
    assert not takes_limit(Resampling.of_spells(lives, 9, seed=5, scheme="poisson"))
