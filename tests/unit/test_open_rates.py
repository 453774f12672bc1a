"""The bound of each open shape, sought once where shapes share a deviance, is that of each alone.

Source of the formula: the gamma bound of an assumed shape, as in the module that is tested.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammaincinv, ndtr, ndtri

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.open import left_open
from fleetstats.bands.open.lattice import LatticePower
from fleetstats.bands.open.left_open import LeftOpen
from fleetstats.bands.open.open_shapes import EASED, OpenShapes
from fleetstats.bands.open.poisson_bound import NODES, bound_of_mean, log_bounds
from fleetstats.bands.open.unplaced import Unplaced, ages_of, members
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells

UNPLACED = (
    ((40.0, 700.0, 3.0), (0.0, 1900.0, 2.0), (900.0, 901.0, 7.0)),
    ((900.0, 900.0001, 9.0),),
)
"""Failures of unknown age: from least to greatest hours, and how many. Of the second the ages are
all but known, so that two numbers of them have no best shape in common."""


@pytest.mark.parametrize("confidence", [0.5, 0.6, 0.95, 0.999])
@pytest.mark.parametrize("prior", [None, ShapePrior(median=2.0, log_sd=0.4, stated=True)])
@pytest.mark.parametrize("n", [1, 40, 3000])
@pytest.mark.parametrize("unplaced", UNPLACED)
def test_rates_of_any_age_are_the_worst_of_every_row_asked_by_itself(
    confidence: float, prior: ShapePrior | None, n: int, unplaced: Unplaced
) -> None:
    """Each shape, number of failures of either kind and end of their ages at its own level."""
    rng = stream(n, "open rates of any age")
    life, stop = 1500.0 * rng.weibull(1.8, n), rng.uniform(300.0, 2500.0, n)
    entry = np.where(rng.random(n) < 0.3, 0.4 * np.minimum(life, stop), 0.0)
    spells = Spells.of(entry, np.minimum(life, stop), life < stop)
    how = {"confidence": confidence, "shapes": (1.0, 4.0), "prior": prior}
    got = OpenShapes.of(spells, unplaced=unplaced, **how)
    surface = Surface.of_spells(spells)
    ages = ages_of(unplaced, surface.reference_h)
    log_age = np.sort(np.log(spells.exit_upper[spells.failed] / surface.reference_h))
    power = surface.sums.log_power(got.theta)[0]
    asked = LeftOpen(got.theta, LatticePower(spells, surface, got.theta, ()), (1.0, 4.0), prior,
                     confidence)  # fmt: skip
    misfit = asked._misfit(got.theta, power)
    for k, taken in enumerate(members(len(log_age))):
        rows = []
        for j, more in enumerate(ages.more):
            r = np.array([len(log_age) - taken + more])
            known = np.array([log_age[taken:].sum()])
            sums = (ages.sums(known, r, end)[j][:, None] for end in (0, 1))
            misfits = (misfit.at(r[:, None], s) for s in sums)
            first, last = (x - x.min() for x in misfits)
            at, low, high = np.arange(len(power)), first.argmin(), last.argmin()
            deviance = np.where(at < low, first, np.where(at > high, last, 0.0))[0]
            left = asked.full(r) - deviance
            with np.errstate(invalid="ignore"):
                mean = np.log(gammaincinv(r + 1.0, ndtr(np.sqrt(left)))) - power
            rows.append(np.where(left >= 0.0, mean, -np.inf))
        worst = np.max(rows, axis=0)
        gone = taken + ages.less
        eased = np.max([x - EASED * n for x, n in zip(rows, gone, strict=True)], axis=0)
        own = slice(got.ends[k - 1] if k else 0, got.ends[k])
        near = {"atol": 1e-10, "rtol": 0.0}  # the root of a level near 0 magnifies its last digit
        np.testing.assert_array_equal(got.column[own], np.flatnonzero(worst > -np.inf))
        np.testing.assert_allclose(got.log_rate[own], worst[got.column[own]], **near)
        np.testing.assert_allclose(got.log_rate_eased[own], eased[got.column[own]], **near)


@pytest.mark.parametrize("confidence", [0.6, 0.95, 0.9999])
def test_a_series_of_bounds_gives_what_each_of_them_does(confidence: float) -> None:
    """Asked at hundreds of levels, a row is read from a series; at a few, each is sought."""
    r = np.array([0.0, 0.5, 1.0, 7.0, 100.0, 1435.0, 1e6])
    most = np.sqrt(1.0 + left_open.LIFT * r / (r + left_open.LIFT_AT) ** 2) * ndtri(confidence)
    for n in (3, NODES, NODES + 1, 300):
        z = np.concatenate([np.linspace(0.0, m, n) for m in most])
        got = log_bounds(r, most, np.full(len(r), n), z)
        want = np.log(bound_of_mean(np.repeat(r, n), z))
        assert np.abs(got - want).max() < (1e-12 if n > NODES else 0.0) + 1e-300
    assert bound_of_mean(np.array([0.0]), np.array([1.2]))[0] == pytest.approx(-np.log(ndtr(-1.2)))


@pytest.mark.parametrize(
    ("engines", "true_shape", "prior"),
    [(40_000, 2.5, False), (40_000, 8.0, False), (300_000, 0.7, True), (300_000, 3.2, False)],
)
def test_bounds_of_very_many_lives_are_those_of_all_shapes_looked_at(
    monkeypatch: pytest.MonkeyPatch, engines: int, true_shape: float, prior: bool
) -> None:
    """Shapes that are passed over by every sixteenth are ruled out, to the last digit."""
    rng = stream(engines, "very many lives")
    n = 400  # rows, each of many engines
    life, stop = 1500 * rng.weibull(true_shape, n), rng.uniform(300, 2500, n)
    entry = np.where(rng.random(n) < 0.3, 0.4 * np.minimum(life, stop), 0.0)
    spells = Spells.of(entry, np.minimum(life, stop), life < stop, weight=np.full(n, engines // n))
    stated = ShapePrior(median=2.0, log_sd=0.4, stated=True) if prior else None
    how = {"confidence": 0.95, "shapes": (1.0, 4.0), "prior": stated}
    quick = OpenShapes.of(spells, **how)
    assert len(quick.theta) > left_open.MANY_SHAPES
    monkeypatch.setattr(left_open, "MANY_SHAPES", 10**9)
    whole = OpenShapes.of(spells, **how)
    for name in ("theta", "ends", "column", "log_rate", "log_rate_eased", "from_h"):
        np.testing.assert_array_equal(getattr(quick, name), getattr(whole, name))
    assert 0 < quick.ends[0] < len(quick.theta) // 8


def test_equal_failures_in_one_row_are_bounded_as_each_in_its_own() -> None:
    rng = stream(3, "equal failures")
    life, stop = 1500.0 * rng.weibull(2.0, 400), rng.uniform(100.0, 1600.0, 400)
    end, failed = np.round(np.minimum(life, stop), -2) + 50.0, life <= stop
    (end_of, failed_of), n = np.unique(np.stack([end, failed]), axis=1, return_counts=True)
    each = Spells.of(entry=np.zeros(400), exit=end, failed=failed)
    rows = Spells.of(
        entry=np.zeros(len(n)), exit=end_of, failed=failed_of > 0, weight=n.astype(np.float64)
    )
    one, other = (OpenShapes.of(x, confidence=0.95, shapes=(1.0, 4.0)) for x in (each, rows))
    ages = np.array([300.0, 700.0, 1200.0, 1500.0])
    assert one.log_hazard(ages) == pytest.approx(other.log_hazard(ages), abs=1e-12)
    assert one.from_h.tolist() == other.from_h.tolist()
    assert one.life_h(0.1) == pytest.approx(other.life_h(0.1), rel=1e-12)
