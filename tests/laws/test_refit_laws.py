"""Refits against fits one by one, and what their draws must not depend on."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.resampling import refit as refit_module
from fleetstats.bands.resampling import refit_sums, weights
from fleetstats.bands.resampling.refit import Draws, refit
from fleetstats.bands.resampling.weights import Resampling, further_engines
from fleetstats.core.errors import ArgumentError, NoMaximum
from fleetstats.spells import Spells
from fleetstats.spells.supposed.changed import note_change
from fleetstats.survival.families.families import fit_family
from fleetstats.survival.weibull.fit_weibull import solve_weibull


def fleet(seed: int, n: int, scale: float, late: bool) -> Spells:
    rng = np.random.default_rng(seed)
    stop = np.linspace(50.0, 1450.0, n)
    entry = np.where(late & (rng.random(n) < 0.5), stop * rng.uniform(0, 0.8, n), 0.0)
    life = scale * ((entry / scale) ** 2 + rng.exponential(size=n)) ** 0.5
    return Spells.of(entry, np.minimum(life, stop), life <= stop)


@pytest.mark.parametrize("scale", [1500.0, 5000.0])
@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("scheme", ["fractional", "poisson"])
def test_each_draw_is_a_fit(scale: float, late: bool, scheme: str) -> None:
    lives = fleet(1, 250, scale, late)
    draws = refit(lives, 300, seed=4, scheme=scheme)
    w = Resampling.of_spells(lives, 300, seed=4, scheme=scheme).weights_of(0)
    for i in range(0, 300, 15):
        try:
            one = solve_weibull(lives.entry, lives.exit_upper, lives.failed, w[i])
        except NoMaximum:
            # whole weights may lose every failure, or all but the oldest
            assert scheme == "poisson"
            assert not draws.converged[i]
            assert np.isnan(draws.shape[i])
            continue
        # 4e-9 is what a plain trial of this kernel reached
        assert draws.shape[i] == pytest.approx(one.shape, rel=4e-9)
        assert draws.scale_h[i] == pytest.approx(one.scale_h, rel=4e-9)
    # all r failures lose their whole weights with chance exp(-r); three standard errors below
    kept = 1.0 - np.exp(-lives.n_failed)
    assert draws.converged.mean() >= kept - 3.0 * np.sqrt(kept * (1.0 - kept) / 300)
    assert scheme == "poisson" or draws.converged.all()
    assert len(draws.kept) == draws.converged.sum()


def test_a_root_outside_the_nodes_is_fitted_directly(monkeypatch: pytest.MonkeyPatch) -> None:
    lives = fleet(2, 60, 3000.0, True)
    wide = refit(lives, 400, seed=1)
    monkeypatch.setattr(refit_sums, "reach_of", lambda _: 0.05)
    narrow = refit(lives.replace(), 400, seed=1)  # the nodes stay with the lives
    assert narrow.n_direct > 100 > wide.n_direct
    assert narrow.shape == pytest.approx(wide.shape, rel=1e-8)
    assert narrow.scale_h == pytest.approx(wide.scale_h, rel=1e-8)


def test_draws_depend_on_the_seed_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    lives = fleet(3, 120, 2500.0, False)
    some, more = refit(lives, 300, seed=9), refit(lives, 1500, seed=9)
    assert more.shape[:300] == pytest.approx(some.shape, rel=1e-12)
    assert not np.allclose(refit(lives, 300, seed=10).shape, some.shape)
    # rows in another order: engines are drawn by their names
    turned = refit(lives.select(np.arange(120)[::-1]), 300, seed=9)
    assert turned.shape == pytest.approx(some.shape, rel=1e-9)
    # several chunks of engines give what their joined weights give
    monkeypatch.setattr(weights, "UNIT_CHUNK", 50)
    cut = refit(lives, 300, seed=9)
    w = Resampling.of_spells(lives, 300, seed=9, scheme="fractional").weights_of(0)
    assert w.shape == (300, 120)
    one = solve_weibull(lives.entry, lives.exit_upper, lives.failed, w[7])
    assert cut.shape[7] == pytest.approx(one.shape, rel=1e-9)


@pytest.mark.parametrize("many", [1.0, 3.0])
@pytest.mark.parametrize("scheme", weights.SCHEMES)
def test_few_draws_are_the_first_of_many_and_no_more_are_made(scheme: str, many: float) -> None:
    lives = Spells.of(0, np.arange(1.0, 31.0), True, weight=np.full(30, many))
    few, whole = (Resampling.of_spells(lives, n, seed=4, scheme=scheme) for n in (20, 1024))
    some = few.weights_of(0)
    np.testing.assert_array_equal(some, whole.weights_of(0)[:20])
    assert few.draw(0, 0, slice(0, 30)).base is None


def test_rows_of_one_engine_share_a_weight() -> None:
    lives = fleet(4, 80, 2500.0, False)
    split = lives.split_at(500.0)
    a, b = refit(lives, 200, seed=2), refit(split, 200, seed=2)
    assert b.shape == pytest.approx(a.shape, rel=1e-9)
    assert b.scale_h == pytest.approx(a.scale_h, rel=1e-9)


def test_a_row_of_many_lives_draws_for_each() -> None:
    one = fleet(5, 60, 2000.0, False)
    tenfold = one.replace(weight=np.full(60, 10.0))
    thin, thick = refit(one, 2000, seed=1), refit(tenfold, 2000, seed=1)
    ratio = np.std(np.log(thin.shape)) / np.std(np.log(thick.shape))
    # ten times the lives, a tenth of the variance; 2,000 draws tell a spread to 1.6 %
    assert ratio == pytest.approx(np.sqrt(10.0), rel=0.08)
    poisson = refit(tenfold, 2000, seed=1, scheme="poisson")
    assert np.std(np.log(poisson.shape)) == pytest.approx(np.std(np.log(thick.shape)), rel=0.08)


@pytest.mark.parametrize("family", ["lognormal", "loglogistic", "gamma", "exponential"])
def test_other_families_refit(family: str) -> None:
    lives = fleet(6, 70, 1800.0, True)
    draws = refit(lives, 40, seed=3, family=family)
    w = Resampling.of_spells(lives, 40, seed=3, scheme="fractional").weights_of(0)
    for i in range(0, 40, 13):
        one = fit_family(lives.replace(weight=w[i]), family)
        # differences of 3e-3 standard errors leave an error beneath 1e-4 of one
        assert draws.estimate[i] == pytest.approx(one.estimate, rel=1e-4)
    assert np.all(draws.life(0.1) > 0)
    assert draws.reliability([500.0, 1000.0]).shape == (40, 2)


def test_failures_between_checks_refit() -> None:
    lives = fleet(7, 70, 1800.0, True)
    up = np.where(lives.failed, np.ceil(lives.exit_upper / 50) * 50, lives.exit_upper)
    low = np.where(lives.failed, np.maximum(up - 50, lives.entry), up)
    found = Spells.of(lives.entry, up, lives.failed, exit_lower=low)
    draws = refit(found, 30, seed=3)
    w = Resampling.of_spells(found, 30, seed=3, scheme="fractional").weights_of(0)
    one = fit_family(found.replace(weight=w[11]), "weibull")
    assert draws.estimate[11] == pytest.approx(one.estimate, rel=1e-5)
    assert isinstance(draws, Draws)


def test_refusals_say_why() -> None:
    with pytest.raises(NoMaximum):
        refit(Spells.of([0, 0], [100, 200], [0, 0]), 10, seed=1)
    lives = fleet(8, 30, 1500.0, False)
    with pytest.raises(ArgumentError, match="scheme = 'rows'"):
        refit(lives, 10, seed=1, scheme="rows")
    with pytest.raises(ArgumentError, match="n = 0"):
        refit(lives, 0, seed=1)
    with pytest.raises(ArgumentError, match="family = 'uniform'"):
        refit(lives, 10, seed=1, family="uniform")


@pytest.mark.parametrize("family", ["weibull", "exponential"])
def test_draws_are_the_same_to_the_bit_whoever_refits(
    family: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Blocks of 64 draws in groups of 2, some fitted directly: in one task, and in groups."""
    monkeypatch.setattr(weights, "DRAW_BLOCK", 64)
    monkeypatch.setattr(refit_module, "SOLVED_TOGETHER", 2)
    monkeypatch.setattr(refit_sums, "reach_of", lambda _: 0.3)
    lives = fleet(9, 60, 3000.0, True)
    plan = Resampling.of_spells(lives, 300, seed=1, scheme="fractional")
    whole = refit(lives, 300, seed=1, family=family)
    for step in (2, 4):
        parts = [
            refit_module._refit_share(
                refit_module._Share(spells=lives, plan=plan, family=family, first=i,
                                    stop=min(i + step, 5))
            )
            for i in range(0, 5, step)
        ]  # fmt: skip
        assert np.array_equal(np.concatenate([p[0] for p in parts]), whole.estimate)
        assert sum(p[2] for p in parts) == whole.n_direct
    assert family != "weibull" or whole.n_direct > 0


def further(names: list[str]) -> tuple[Spells, Spells, Spells]:
    """Return a fleet, it with further failed engines, noted to be made of it, and not noted."""
    lives = fleet(9, 150, 900.0, True)
    ages = np.linspace(600.0, 900.0, len(names))
    more = lives.join(Spells.of(0.0, ages, np.ones(len(names)), unit=names))
    noted = note_change(more, lives, [], len(lives) + np.arange(len(names)))
    return lives, noted, more.replace()


def test_a_plan_with_further_engines_is_that_of_the_whole_fleet() -> None:
    _, noted, plain = further(["unreported 1", "unreported 2", "unreported 10"])
    change = further_engines(noted)
    assert change is not None
    assert len(change.come) == 3
    assert further_engines(plain) is None
    a, b = (Resampling.of_spells(s, 30, seed=3, scheme="fractional") for s in (noted, plain))
    for name in ("unit_of_row", "lives", "row_weight"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
    # an id that stands among the others moves the draws of all behind it
    assert further_engines(further(["unreported 2", "unreported 1"])[1]) is None
    assert further_engines(further(["0", "unreported 1"])[1]) is None


def test_chunks_in_common_with_the_fleet_before_are_summed_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Held against a refit of a fleet of which nothing is known, at its own nodes."""
    monkeypatch.setattr(weights, "UNIT_CHUNK", 32)
    drawn: list[int] = []
    draw = Resampling.draw

    def noting(self: Resampling, block: int, chunk: int, units: slice) -> np.ndarray:
        drawn.append(chunk)
        return draw(self, block, chunk, units)

    monkeypatch.setattr(Resampling, "draw", noting)
    before, noted, plain = further(["unreported 1", "unreported 2"])
    alone = refit(plain, 200, seed=1)
    every = list(dict.fromkeys(drawn))
    assert every == [0, 1, 2, 3, 4]
    drawn.clear()
    refit(before, 200, seed=1)
    assert drawn == every
    drawn.clear()
    got = refit(noted, 200, seed=1)
    assert drawn == every[-1:]
    np.testing.assert_allclose(got.estimate, alone.estimate, rtol=1e-9)
    # a worker is sent the lives alone, and the nodes
    plan = Resampling.of_spells(plain, 200, seed=1, scheme="fractional")
    share = refit_module._Share(spells=plain, plan=plan, family="weibull", first=0, stop=1,
                                panels=refit_sums.panels_of(noted))  # fmt: skip
    np.testing.assert_array_equal(refit_module._refit_share(share)[0], got.estimate)


def test_nodes_far_from_the_best_shape_are_not_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(weights, "UNIT_CHUNK", 32)
    before, noted, _ = further(["unreported 1", "unreported 2"])
    assert refit_sums.panels_of(noted).are_where(refit_sums.panels_of(before))
    monkeypatch.setattr(refit_sums, "NEAR", 0.0)
    before, noted, plain = further(["unreported 1", "unreported 2"])
    assert refit_sums.panels_of(noted).are_where(refit_sums.panels_of(plain))
    assert not refit_sums.panels_of(noted).are_where(refit_sums.panels_of(before))
