"""Laws of life averaged by evidence: each number by a second road."""

import numpy as np
import pytest
from scipy.integrate import quad

from fleetstats.bands.averaged.average import draw_any_lives, law_shares, weigh_laws
from fleetstats.bands.averaged.cells import AgeCells
from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.bands.averaged.evidence import weigh_law
from fleetstats.bands.averaged.laws import LAWS, LEVEL_SD
from fleetstats.bands.draws import draw_lives
from fleetstats.chapters.ahead.shrunk import drawn_in, shrunk_chance
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.study.settings import EvidenceKeys

BY_KEY = {law.key: law for law in LAWS}


def fleet(n=200, shape=2.5, scale=1800.0, seed=4, law=None):
    rng = np.random.default_rng(seed)
    stop = rng.uniform(100.0, 1600.0, n)
    entry = np.where(rng.random(n) < 0.3, 0.4 * stop, 0.0)
    life = scale * rng.weibull(shape, n) if law is None else law(rng, n)
    keep = life > entry
    end = np.minimum(life, stop)
    return Spells.of(entry[keep], end[keep], (life <= stop)[keep])


def direct(spells, shape, scale):
    """Log likelihood of a Weibull, life by life (Lawless 2003, section 2.2)."""
    a, z, d = spells.entry, spells.exit_upper, spells.failed
    rate = np.log(shape / scale) + (shape - 1) * np.log(z / scale)
    return float(rate[d].sum() - ((z / scale) ** shape - (a / scale) ** shape).sum())


def test_cells_rank_curves_as_the_lives_do():
    spells = fleet()
    cells = AgeCells.of(spells, 0.0)
    assert cells.failures.sum() == spells.n_failed
    assert cells.exposure_h.sum() == pytest.approx(spells.exposure_h, rel=1e-12)
    asked = [(2.5, 1800.0), (1.0, 5000.0), (4.0, 1700.0), (1.8, 2500.0)]
    by_cells = cells.log_likelihood(np.array([(cells.edge_h / s) ** b for b, s in asked]))
    by_lives = np.array([direct(spells, *a) for a in asked])
    assert by_cells - by_cells[0] == pytest.approx(by_lives - by_lives[0], abs=0.25)


def test_a_failure_between_checks_counts_for_all_ages_between():
    """One engine, good at entry and found failed at 1,000 h: log of the chance of failing."""
    spells = Spells.of([0.0, 0.0], [1000.0, 900.0], [True, False], exit_lower=[0.0, 900.0])
    cells = AgeCells.of(spells, 0.0)
    assert cells.failures.sum() == 0.0
    got = cells.log_likelihood(2.0 * (cells.edge_h / 1000.0)[None, :])[0]
    assert got == pytest.approx(np.log1p(-np.exp(-2.0)) - 1.8, abs=1e-9)


@pytest.mark.parametrize("key", ["constant", "Weibull", "lognormal", "log-logistic", "gamma"])
def test_laws_have_their_level_at_the_reference(key):
    law = BY_KEY[key]
    theta = np.array([[np.log(0.3), *law.middle]])
    h = law.hazard(theta, np.array([0.5, 1.0, 2.0]))[0]
    assert h[1] == pytest.approx(0.3, rel=1e-9)
    assert h[0] < 0.3 < h[2]


def test_two_modes_and_a_weak_share_by_hand():
    """Bathtub: 0.5 of 0.2 each way at ratio 1, at 4: 0.1 * 4**0.5 + 0.1 * 4**3 = 6.6.

    Weak share: half of the engines fail at once, the rest as 0.1 x: -log(0.5 exp(-0.1)).
    """
    tub = np.array([[np.log(0.2), 0.0, np.log(0.5), np.log(3.0)]])
    got = BY_KEY["bathtub"].hazard(tub, np.array([1.0, 4.0]))
    assert got[0] == pytest.approx([0.2, 6.6], rel=1e-9)
    weak = np.array([[np.log(0.1), 0.0, 0.0, -50.0, 0.0]])
    got = BY_KEY["weak share"].hazard(weak, np.array([1.0]))
    assert got[0] == pytest.approx([np.log(2.0) + 0.1], rel=1e-9)


@pytest.mark.parametrize(("n", "scale"), [(40, 6000.0), (200, 1800.0), (2000, 1500.0)])
def test_evidence_is_the_integrated_likelihood(n, scale):
    """One number: against adaptive quadrature."""
    cells = AgeCells.of(fleet(n, scale=scale), 0.0)
    r, level = cells.failures.sum(), cells.level
    h = cells.edge_h / cells.reference_h

    def log_p(x):
        like = cells.log_likelihood(np.exp(x) * h[None, :])[0]
        return like - 0.5 * ((x - level) / LEVEL_SD) ** 2 - np.log(LEVEL_SD * np.sqrt(2 * np.pi))

    peak = max(np.linspace(level - 5, level + 5, 2001), key=log_p)
    top, wide = log_p(peak), 8.0 / np.sqrt(r + 0.5) + 1.0
    area = quad(lambda x: np.exp(log_p(x) - top), peak - wide, peak + wide, limit=200)[0]
    got = weigh_law(BY_KEY["constant"], cells, stream(3, "evidence"))
    assert got.log_evidence == pytest.approx(top + np.log(area), abs=0.1)
    mean = quad(lambda x: x * np.exp(log_p(x) - top), peak - wide, peak + wide, limit=200)[0] / area
    assert got.weight @ got.theta[:, 0] == pytest.approx(mean, abs=0.3 / np.sqrt(r + 1))


def test_the_records_choose_the_law_that_made_them():
    def tub(rng, n):
        return np.minimum(9000.0 * rng.weibull(0.6, n), 1500.0 * rng.weibull(7.0, n))

    def weak(rng, n):
        return np.where(rng.random(n) < 0.1, 400.0, 2500.0) * rng.weibull(4.0, n)

    for law, key in ((tub, "bathtub"), (weak, "weak share")):
        assert law_shares(weigh_laws(fleet(1500, law=law), 1))[key] > 0.9
    plain = law_shares(weigh_laws(fleet(1500), 1))
    assert plain["Weibull"] > 0.5
    assert plain["constant"] == 0.0
    steady = law_shares(weigh_laws(fleet(1500, shape=1.0, scale=8000.0), 1))
    assert steady["constant"] > 0.5


def test_curves_of_a_weibull_are_its_draws():
    spells = fleet()
    evidence = EvidenceKeys(prior_shape_median=2.0)
    few = Spells.of(0.0, np.linspace(100.0, 1500.0, 60), np.arange(60) % 20 == 19)
    base = draw_lives(few, evidence, 200, seed=2)
    got = draw_any_lives(few, evidence, 200, seed=2, top_h=2000.0)
    assert got.laws == (("Weibull", 1.0),)
    ages = np.array([0.0, 310.0, 990.0, 1500.0])
    for ask in ("conditional_failure", "remaining_life"):
        by = 100.0 if ask == "conditional_failure" else 0.01
        assert getattr(got, ask)(ages, by)[:, 1:] == pytest.approx(
            getattr(base, ask)(ages, by)[:, 1:], rel=1e-6, abs=1e-9
        )
    assert len(draw_any_lives(spells, EvidenceKeys(), 300, seed=2, top_h=2000.0).laws) > 1


def test_the_factor_ahead_multiplies_the_hazard_from_today_on_and_nothing_before():
    curves = draw_any_lives(fleet(), EvidenceKeys(), 50, seed=1, top_h=2000.0)
    twice = curves.times(2.0)
    ages = np.array([400.0, 900.0])
    left = 1.0 - curves.conditional_failure(ages, 150.0)
    assert 1.0 - twice.conditional_failure(ages, 150.0) == pytest.approx(left**2, rel=1e-9)
    assert twice.cumulative_hazard(ages) == pytest.approx(curves.cumulative_hazard(ages))
    assert twice.remaining_life(ages, 1.0 - 0.9**2) == pytest.approx(
        curves.remaining_life(ages, 0.1), rel=1e-6, abs=1e-6
    )


def test_mean_hours_of_a_constant_hazard():
    """(1 - exp(-T / m)) m."""
    hours = np.geomspace(5.0, 5000.0, 300)
    c = LifeCurves(
        hours=hours, log_hazard=np.log(hours / 800.0)[None, :], factor=[1.0], method="", why=""
    )
    assert c.mean_hours(1000.0)[0] == pytest.approx(800.0 * -np.expm1(-1.25), rel=1e-3)


def test_what_is_told_of_an_engine_lies_between_the_fleets_rate_and_the_middle():
    ages = np.array([200.0, 700.0, 1400.0])
    pulls = []
    for n in (30, 200, 1500):
        spells = fleet(n)
        draws = draw_any_lives(spells, EvidenceKeys(), 300, seed=1, top_h=1700.0)
        rate = -np.expm1(-100.0 * spells.n_failed / spells.exposure_h)
        middle = np.median(draws.conditional_failure(ages, 100.0), axis=0)
        told = shrunk_chance(spells, draws, ages, 100.0)
        assert np.all((told - rate) * (middle - rate) >= 0.0)
        assert np.all(np.abs(told - rate) <= np.abs(middle - rate))
        pulls.append(drawn_in(spells, draws))
    assert pulls[0] < pulls[1] < pulls[2]
    assert pulls[2] > 0.98
    none = Spells.of(0.0, np.linspace(50.0, 900.0, 40), np.zeros(40))
    draws = draw_any_lives(none, EvidenceKeys(), 100, seed=1, top_h=1000.0)
    half = -np.expm1(-100.0 * 0.5 / none.exposure_h)
    assert shrunk_chance(none, draws, ages, 100.0) == pytest.approx(np.full(3, half))
