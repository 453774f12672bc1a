"""Pathologies of pooled data, each on a small made fleet: the harm, and then the cure.

Numbers B2 … B20 are rows of the project's design table of data pathologies. All fleets are
invented, from stated truth.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from known_shape import reliability_low

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.groups.influence import advise_influence
from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.spells import Event, Spells
from fleetstats.survival.counting.entry_check import (
    drop_settling,
    estimate_entry_check,
)
from fleetstats.survival.counting.incidence import estimate_outer_band
from fleetstats.survival.counting.product_limit import estimate_product_limit
from fleetstats.survival.groups.between import fit_between
from fleetstats.survival.groups.clusters import resample_clusters
from fleetstats.survival.groups.groups import compare_groups, split_groups
from fleetstats.survival.groups.pooling import compare_scales
from fleetstats.survival.weibull.fit_weibull import fit_weibull

SHAPE, SCALE = 2.5, 2000.0
B10 = SCALE * (-np.log(0.9)) ** (1 / SHAPE)


def lives(rng: np.random.Generator, n: int, scale: float = SCALE, shape: float = SHAPE):
    return scale * rng.weibull(shape, n)


class TestB2EntryRelatedToLife:
    """Owners join *because of* trouble: late joiners fail within 80 h of joining."""

    @pytest.fixture
    def fleet(self) -> Spells:
        rng = np.random.default_rng(2)
        new, troubled = lives(rng, 220), lives(rng, 60)
        stop = rng.uniform(300, 1800, 220)
        of_new = Spells.of(np.zeros(220), np.minimum(new, stop), new <= stop)
        joined = np.maximum(troubled - rng.uniform(5, 80, 60), 1.0)
        names = [f"joined {i}" for i in range(60)]
        return of_new.join(Spells.of(joined, troubled, np.ones(60), unit=names))

    def test_harm(self, fleet: Spells) -> None:
        """Conditioning on entry, right in itself, says 3 in 10 reach 1,500 h, not 6 in 10."""
        truth = np.exp(-((1500 / SCALE) ** SHAPE))
        assert truth > 0.6
        assert float(fit_weibull(fleet).reliability(1500.0)) < truth - 0.2

    def test_the_check_sees_it(self, fleet: Spells) -> None:
        check = estimate_entry_check(fleet, seed=1)
        assert check.reading == "joiners-fail-early"
        assert check.tau < 0
        assert [c.code for c in check.cautions] == ["late-entry"]
        joined = fleet.select((fleet.entry > 500.0) & (fleet.entry <= 1000.0))
        of_new = fleet.select(fleet.entry == 0.0)
        assert joined.n_failed / joined.exposure_h > 20 * of_new.n_failed / of_new.exposure_h

    def test_cure(self, fleet: Spells) -> None:
        """Without the first 100 h after joining, the fleet is its own again."""
        cured = drop_settling(fleet)
        fit = fit_weibull(cured)
        assert abs(float(fit.reliability(1500.0)) - np.exp(-((1500 / SCALE) ** SHAPE))) < 0.05
        assert abs(np.log(float(fit.quantile(0.1)) / B10)) < 0.15


def test_b2_the_check_stays_quiet_where_entry_does_not_matter() -> None:
    rng = np.random.default_rng(5)
    quiet = []
    for seed in range(120):
        entry = np.where(rng.random(160) < 0.6, rng.uniform(0, 1200, 160), 0.0)
        life = SCALE * ((entry / SCALE) ** SHAPE + rng.exponential(size=160)) ** (1 / SHAPE)
        stop = entry + rng.uniform(100, 900, 160)
        spells = Spells.of(entry, np.minimum(life, stop), life <= stop)
        check = estimate_entry_check(spells, seed=seed)
        quiet.append(check.reading in ("not-related", "too-few"))
    # 95 % less three binomial standard errors of 2 points.
    assert np.mean(quiet) > 0.89


class TestB3UnreportedFailures:
    """Half of the failures are never reported; those engines look as if sold just then."""

    q = 0.5

    def fleets(self):
        rng = np.random.default_rng(3)
        for _ in range(200):
            life, stop = lives(rng, 120), rng.uniform(100, 1500, 120)
            failed = life <= stop
            reported = failed & (rng.random(120) < self.q)
            yield Spells.of(np.zeros(120), np.minimum(life, stop), reported)

    def test_harm_and_cure(self) -> None:
        truth = float(np.exp(-((1200 / SCALE) ** SHAPE)))
        naive, thinned = [], []
        for fleet in self.fleets():
            low = reliability_low(fleet, SHAPE, 1200.0)
            naive.append(low <= truth)
            thinned.append(low ** (1 / self.q) <= truth)
        assert np.mean(naive) < 0.60  # a "95 %" bound that holds in three fleets of five at most
        assert np.mean(thinned) >= 0.95 - 3 * 0.0154

    def test_the_report_shows_the_share_as_an_axis(self) -> None:
        settings = made_settings()
        fleet = next(iter(self.fleets()))
        hidden = estimate_hidden(fleet, fit_weibull(fleet), settings)
        axis = [s for s in hidden.scenarios if s.axis == "reporting"]
        assert [s.hours_low for s in axis] == sorted((s.hours_low for s in axis), reverse=True)
        assert all(s.hours_low < hidden.base_hours for s in axis)
        half = next(s for s in axis if "50" in s.label)
        # Minus log of the bound on reliability is the bound on the cumulative hazard: times 1/q.
        whole = [s for s in axis if s.reliability_low is not None]
        assert whole
        ratio = np.log(half.reliability_low) / np.log(axis[0].reliability_low)
        share = float(axis[0].label.split(" %")[0].split()[-1]) / 100
        assert ratio == pytest.approx(share / 0.5, rel=1e-6)


class TestB4Survivorship:
    """100 built; the 80 that can be traced have not failed; 15 of the other 20 had."""

    traced = Spells.of(np.zeros(80), np.linspace(200, 1400, 80), np.zeros(80))
    settings = made_settings(claim=1000.0)

    def test_harm(self) -> None:
        """The traced alone promise more than is true of all that were built."""
        assert reliability_low(self.traced, 2.0, 1000.0) > 0.93
        truth = 1 - 15 / 100  # at least so many had failed by 1,000 h
        assert truth < 0.93

    def test_cure(self) -> None:
        """Fate unknown is counted, and the answer is given with all of them failed."""
        hidden = estimate_hidden(self.traced, None, self.settings, n_fate_unknown=20)
        worst = next(s for s in hidden.scenarios if s.axis == "fate-unknown")
        assert worst.n_failed == 20
        assert worst.reliability_low < 1 - 15 / 100
        assert worst.hours_low < hidden.base_hours
        assert worst.shown is False


class TestB13InformativeRemoval:
    """Half of the engines about to fail are taken out at a check, up to 60 h before."""

    @pytest.fixture
    def fleet(self) -> Spells:
        rng = np.random.default_rng(13)
        n = 500
        life, stop = lives(rng, n), rng.uniform(300, 2200, n)
        caught = (rng.random(n) < 0.5) & (life <= stop)
        end = np.where(caught, np.maximum(life - rng.uniform(0, 60, n), 1), np.minimum(life, stop))
        event = list(map(Event, np.where(caught, Event.FINDING, life <= stop)))
        return Spells.of(np.zeros(n), end, event)

    def test_harm(self, fleet: Spells) -> None:
        """Removals taken as fair censorings hide half of the hazard."""
        truth = np.exp(-((1500 / SCALE) ** SHAPE))
        curve = estimate_product_limit(fleet)
        assert float(curve.at([1500.0])[0]) > truth + 0.12

    def test_cure(self, fleet: Spells) -> None:
        """The outer band, which assumes nothing, holds the truth; here near its lower edge."""
        band = estimate_outer_band(fleet)
        for hours in (800.0, 1200.0, 1500.0):
            low, high = band.limits_at(hours)
            truth = np.exp(-((hours / SCALE) ** SHAPE))
            # Three standard errors of a share of 500.
            assert low - 3 * np.sqrt(truth * (1 - truth) / 500) <= truth <= high
        assert high > low + 0.1


class TestB17UsageMix:
    """A towing club wears engines out at 900 h, a private one at 3,000 h; both with shape 3."""

    @pytest.fixture
    def fleet(self) -> Spells:
        rng = np.random.default_rng(17)
        parts = []
        for name, scale in (("towing", 900.0), ("private", 3000.0)):
            life, stop = lives(rng, 150, scale, 3.0), rng.uniform(200, 2000, 150)
            parts.append(
                Spells.of(np.zeros(150), np.minimum(life, stop), life <= stop,
                          source=np.full(150, name))
            )  # fmt: skip
        return parts[0].join(parts[1])

    def test_harm(self, fleet: Spells) -> None:
        """Pooled, the shape is nobody's: wear-out bends down into a mixture."""
        assert fit_weibull(fleet).shape < 2.3
        # The pooled B10 is late for the towing club, on the unsafe side.
        assert fit_weibull(fleet).quantile(0.1) > 1.1 * 900 * (-np.log(0.9)) ** (1 / 3)

    def test_cure(self, fleet: Spells) -> None:
        """The ratio says different; apart, each shape is found again; a new club may be either."""
        parts = split_groups(fleet, "source")
        ratio = compare_scales(
            parts["private"], parts["towing"], names=("private", "towing"), margin=(0.8, 1.25)
        )
        assert ratio.verdict == "outside"
        apart = compare_groups(fleet, "source")
        assert abs(apart.common_shape - 3.0) < 0.4
        new = fit_between(fleet).new
        for scale in (900.0, 3000.0):
            assert new.scale_low_h < scale < new.scale_high_h


class TestB20BadLot:
    """Ten lots of 20 engines; one lot of rods is bad and fails at 600 h, all others at 3,000 h."""

    @pytest.fixture
    def fleet(self) -> Spells:
        rng = np.random.default_rng(20)
        parts = []
        for lot in range(10):
            scale = 600.0 if lot == 3 else 3000.0
            life, stop = lives(rng, 20, scale, 3.0), rng.uniform(200, 1500, 20)
            parts.append(
                Spells.of(np.zeros(20), np.minimum(life, stop), life <= stop,
                          source=np.full(20, f"lot {lot}"),
                          unit=[f"{lot}-{i}" for i in range(20)])
            )  # fmt: skip
        out = parts[0]
        for p in parts[1:]:
            out = out.join(p)
        return out

    def test_harm_and_cure(self, fleet: Spells) -> None:
        """Engine by engine the band is too narrow; lot by lot it is several times as wide."""
        tails = [0.05, 0.95]
        draws = resample_clusters(fleet, by="source", n=150, seed=1)
        assert draws.widening > 1.5
        low, high = np.nanquantile(draws.life_h(0.10), tails)
        alone = resample_clusters(fleet, by="engine", labels=fleet.unit, n=150, seed=1)
        a, b = np.nanquantile(alone.life_h(0.10), tails)
        good = 3000.0 * (-np.log(0.9)) ** (1 / 3)
        # Nine lots in ten live by this; the band by engines swears that it cannot be.
        assert b < good
        assert np.log(high / low) > 1.5 * np.log(b / a)

    def test_the_lot_is_named(self, fleet: Spells) -> None:
        """Leaving out each in turn, the advice moves most without the bad lot, and turns."""

        def advise(spells: Spells) -> AdviceFigure:
            life = float(fit_weibull(spells).quantile(0.1))
            return AdviceFigure(
                n_failed=spells.n_failed, state="answered", plan_from_h=life, expect_at_h=life,
                not_beyond_h=life, life_h=life, life_low_h=life, shape=None,
                verdict="supported" if life > 1200 else "contradicted",
            )  # fmt: skip

        settings = made_settings()
        lines, compared = advise_influence(fleet, settings, base=advise(fleet), advise=advise)
        assert compared == 200
        lots = {x.name: x for x in lines if x.kind == "source"}
        worst = max(lots.values(), key=lambda x: abs(x.change_h))
        assert worst.name == "lot 3"
        assert worst.change_h > 300
        assert [x.name for x in lots.values() if x.turns] == ["lot 3"]
        engines = [x for x in lines if x.kind == "engine"]
        assert len(engines) == 3
        assert not any(x.turns for x in engines)
