"""The bound of each open shape, sought once where shapes share a deviance, is that of each alone.

Source of the formula: the gamma bound of an assumed shape, as in the module that is tested.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammaincinv, ndtr, ndtri

from fleetstats.bands import open_shapes
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.open_shapes import OpenShapes
from fleetstats.bands.poisson_bound import NODES, bound_of_mean, log_bounds
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells


@pytest.mark.parametrize("confidence", [0.6, 0.9, 0.99])
@pytest.mark.parametrize("share_at_peak", [0.0, 0.5, 1.0])
def test_each_rate_is_to_the_byte_what_its_own_shape_gives(
    confidence: float, share_at_peak: float
) -> None:
    rng = stream(5, "open rates")
    rows, shapes = 7, 30
    r = np.round(rng.gamma(1.0, 10.0, rows))
    deviance = rng.gamma(1.0, 2.0, (rows, shapes))
    deviance[rng.random((rows, shapes)) < share_at_peak] = 0.0
    log_power = rng.normal(size=shapes)
    got = open_shapes._log_rates(deviance, r, log_power, confidence)
    c = 1.0 + open_shapes.LIFT * r / (r + open_shapes.LIFT_AT) ** 2
    for i in range(rows):
        for j in range(shapes):
            left = c[i] * float(ndtri(confidence)) ** 2 - deviance[i, j]
            want = -np.inf
            if left >= 0.0:
                mean = gammaincinv(r[i] + 1.0, ndtr(np.sqrt(left)))
                want = np.log(mean) - log_power[j]
            assert got[i, j] == want


@pytest.mark.parametrize("confidence", [0.6, 0.95, 0.9999])
def test_a_series_of_bounds_gives_what_each_of_them_does(confidence: float) -> None:
    """Asked at hundreds of levels, a row is read from a series; at a few, each is sought."""
    r = np.array([0.0, 0.5, 1.0, 7.0, 100.0, 1435.0, 1e6])
    most = np.sqrt(1.0 + open_shapes.LIFT * r / (r + open_shapes.LIFT_AT) ** 2) * ndtri(confidence)
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
    assert len(quick.theta) > open_shapes.MANY_SHAPES
    monkeypatch.setattr(open_shapes, "MANY_SHAPES", 10**9)
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
