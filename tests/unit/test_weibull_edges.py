"""The Weibull fit where numbers are hard: a right answer, checked in 60 digits, or a refusal."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from fleetstats.core import FitError, NoMaximum
from fleetstats.core.errors import SpellError
from fleetstats.spells import Spells
from fleetstats.survival import Fit, fit_weibull, solve_weibull


def polish(s: Spells, fit: Fit) -> tuple[float, float, float]:
    """Return shape, scale and log likelihood after Newton steps in 60 digits from our answer.

    Written anew from the row-wise likelihood; parameters are log shape and log scale.
    """
    with mpmath.workdps(60):
        rows = [
            (mpmath.mpf(float(e)), mpmath.mpf(float(a)), mpmath.mpf(float(b)), bool(f), float(w))
            for e, a, b, f, w in zip(
                s.entry, s.exit_lower, s.exit_upper, s.failed, s.weight, strict=True
            )
        ]

        def total(u: mpmath.mpf, v: mpmath.mpf) -> mpmath.mpf:
            shape, scale = mpmath.exp(u), mpmath.exp(v)

            def h(t: mpmath.mpf) -> mpmath.mpf:
                return mpmath.power(t / scale, shape) if t > 0 else mpmath.mpf(0)

            out = mpmath.mpf(0)
            for e, a, b, failed, w in rows:
                if not failed:
                    row = -h(b)
                elif a == b:
                    row = mpmath.log(shape / b) + mpmath.log(h(b)) - h(b)
                else:
                    row = -h(a) + mpmath.log(-mpmath.expm1(h(a) - h(b)))
                out += w * (row + h(e))
            return out

        x = mpmath.matrix([mpmath.log(fit.shape), mpmath.log(fit.scale_h)])
        d = mpmath.mpf(10) ** -16
        for _ in range(2):
            f = {(i, j): total(x[0] + i * d, x[1] + j * d) for i in (-1, 0, 1) for j in (-1, 0, 1)}
            g = mpmath.matrix([(f[1, 0] - f[-1, 0]) / (2 * d), (f[0, 1] - f[0, -1]) / (2 * d)])
            aa = (f[1, 0] - 2 * f[0, 0] + f[-1, 0]) / d**2
            bb = (f[0, 1] - 2 * f[0, 0] + f[0, -1]) / d**2
            ab = (f[1, 1] - f[1, -1] - f[-1, 1] + f[-1, -1]) / (4 * d**2)
            assert aa < 0
            assert aa * bb - ab * ab > 0, "a saddle, not a maximum"
            x = x - mpmath.lu_solve(mpmath.matrix([[aa, ab], [ab, bb]]), g)
        return float(mpmath.exp(x[0])), float(mpmath.exp(x[1])), float(total(x[0], x[1]))


def fleet(
    shape: float, scale: float, *, late: bool, interval: bool, weights: bool, seed: int
) -> Spells:
    rng = np.random.default_rng(seed)
    n = 14
    entry = scale * rng.uniform(0.0, 0.6, n) * (rng.random(n) < 0.6) if late else np.zeros(n)
    life = scale * (rng.exponential(size=n) + (entry / scale) ** shape) ** (1.0 / shape)
    stop = entry + scale * rng.uniform(0.3, 1.5, n)
    failed = life <= stop
    end = np.minimum(life, stop)
    lower = end.copy()
    if interval:
        width = scale * 0.2 * rng.random(n)
        found = failed & (rng.random(n) < 0.7)
        lower = np.where(found, np.maximum(entry, end - width), end)
        end = np.where(found, end + 0.2 * width, end)
    weight = 10.0 ** rng.uniform(-6, 6, n) if weights else np.ones(n)
    return Spells.of(entry, end, failed, exit_lower=lower, weight=weight)


@pytest.mark.parametrize("shape", [0.2, 1.0, 5.0, 30.0])
@pytest.mark.parametrize("scale", [1e-3, 1e7])
@pytest.mark.parametrize("late", [False, True], ids=["new", "late"])
@pytest.mark.parametrize("interval", [False, True], ids=["exact", "interval"])
def test_shapes_and_ages(shape: float, scale: float, late: bool, interval: bool) -> None:
    s = fleet(shape, scale, late=late, interval=interval, weights=False, seed=11)
    fit = fit_weibull(s)
    want = polish(s, fit)
    assert (fit.shape, fit.scale_h) == pytest.approx(want[:2], rel=1e-10)
    assert fit.log_likelihood == pytest.approx(want[2], rel=1e-11, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("interval", [False, True], ids=["exact", "interval"])
def test_weights_of_all_sizes(seed: int, interval: bool) -> None:
    s = fleet(2.0, 1500.0, late=True, interval=interval, weights=True, seed=seed)
    fit = fit_weibull(s)
    want = polish(s, fit)
    assert (fit.shape, fit.scale_h) == pytest.approx(want[:2], rel=1e-8)
    assert fit.log_likelihood == pytest.approx(want[2], rel=1e-10)


TABLES = {
    "single failure": Spells.of([0, 0, 0], [500, 900, 1400], [1, 0, 0]),
    "all failed": Spells.of([0, 0, 0, 0], [5, 100, 2000, 1e6], [1, 1, 1, 1]),
    "ties below the oldest": Spells.of(np.zeros(5), [700, 700, 700, 900, 900], [1, 1, 1, 0, 0]),
    "ties, late": Spells.of([0, 100, 600, 0], [700, 700, 700, 701], [1, 1, 1, 0]),
    "interval as wide as life": Spells.of(
        np.zeros(4), [1000, 1000, 800, 400], [1, 0, 0, 1], exit_lower=[0, 1000, 800, 400]
    ),
    "left-known only": Spells.of(
        np.zeros(4), [400, 800, 400, 800], [1, 1, 0, 0], exit_lower=[0, 0, 400, 800],
        weight=[1, 5, 9, 5],
    ),
    "nearly the oldest": Spells.of([0, 0], [1000.0 * (1 - 1e-7), 1000.0], [1, 0]),
    "short spells at a great age": Spells.of(
        [1e6, 2e6, 3e6, 1e6, 5e5], [1e6 + 5, 2e6 + 9, 3e6 + 2, 1e6 + 9, 5e5 + 9],
        [1, 1, 1, 0, 0],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_small_tables(name: str) -> None:
    s = TABLES[name]
    fit = fit_weibull(s)
    want = polish(s, fit)
    assert (fit.shape, fit.scale_h) == pytest.approx(want[:2], rel=1e-8), fit
    assert fit.log_likelihood == pytest.approx(want[2], rel=1e-9, abs=1e-9)
    assert np.isfinite(fit.covariance).all()
    assert np.all(np.diag(fit.covariance) > 0)


@pytest.mark.parametrize("start", [1e-9, 1e-3, 1.0, 40.0, 1e4, 1e9])
@pytest.mark.parametrize("name", ["single failure", "ties, late", "short spells at a great age"])
def test_any_start_ends_at_the_same_place(name: str, start: float) -> None:
    s = TABLES[name]
    want = solve_weibull(s.entry, s.exit_upper, s.failed)
    got = solve_weibull(s.entry, s.exit_upper, s.failed, start_shape=start)
    assert got.converged
    assert got.shape == pytest.approx(want.shape, rel=1e-9)
    assert got.scale_h == pytest.approx(want.scale_h, rel=1e-9)


REFUSED = {
    "no-failures": Spells.of([0, 50], [100, 200], [0, 0]),
    "one-failure-at-oldest-age": Spells.of([0, 0, 0], [100, 200, 300], [0, 0, 1]),
    "all-failures-at-one-age": Spells.of([0, 0, 10], [300, 200, 300], [1, 0, 1]),
    # Every life late; log-mean age at failure is below that of the time at risk.
    "shape-falls-to-zero": Spells.of([100, 100, 100], [101, 1000, 1000], [1, 0, 0]),
    # Both failures could lie at 250 h.
    "shape-grows-without-limit": Spells.of(
        [0, 0, 0], [300, 400, 150], [1, 1, 0], exit_lower=[200, 240, 150]
    ),
    # One check age only: the share failed by 500 h is known, the shape is not.
    "shape-not-identified": Spells.of(
        np.zeros(4), [500, 500, 500, 500], [1, 0, 0, 1], exit_lower=[0, 500, 500, 0]
    ),
    "nothing-survived": Spells.of([0, 20], [300, 400], [1, 1], exit_lower=[0, 20]),
}


@pytest.mark.parametrize("reason", REFUSED)
def test_no_maximum_is_said_plainly(reason: str) -> None:
    with pytest.raises(NoMaximum) as caught:
        fit_weibull(REFUSED[reason])
    assert caught.value.reason == reason
    assert caught.value.hint


def test_where_every_life_is_late_the_condition_is_exact() -> None:
    """Two lives run from 100 h to 1,000 h, a third from 100 h failed at x: where is the edge?

    A maximum exists when the mean log age at failure lies above that of the time at risk. With
    L = log 10 and y = log(x / 1000), the latter is (y^2 - 3 L^2) / (2 (3 L + y)); it equals y at
    y^2 + 6 L y + 3 L^2 = 0. Near the edge the shape is so small that no number holds the scale.
    """
    y = (math.sqrt(6.0) - 3.0) * math.log(10.0)
    edge = 1000 * math.exp(y)

    def lives(x: float) -> Spells:
        return Spells.of([100, 100, 100], [x, 1000, 1000], [1, 0, 0])

    assert 0.0 < fit_weibull(lives(1.1 * edge)).shape < 0.5
    with pytest.raises(FitError, match="no number"):
        fit_weibull(lives(edge * (1 + 1e-4)))
    with pytest.raises(NoMaximum) as caught:
        fit_weibull(lives(edge * (1 - 1e-4)))
    assert caught.value.reason == "shape-falls-to-zero"


def test_rows_of_no_weight_do_not_count() -> None:
    """Bootstrap weights may be 0: the oldest age is then that of the lives that count."""
    exit_h, failed = [100, 200, 300, 400], [0, 1, 1, 0]
    got = solve_weibull(None, exit_h, failed, [1, 1, 1, 0])
    want = solve_weibull(None, exit_h[:3], failed[:3])
    assert got.shape == pytest.approx(want.shape, rel=1e-12)
    with pytest.raises(NoMaximum) as caught:
        solve_weibull(None, exit_h, failed, [1, 0, 1, 0])
    assert caught.value.reason == "one-failure-at-oldest-age"


@pytest.mark.parametrize("weight", [1e-320, 1e-160, 1e160, 1e308])
def test_weights_that_come_to_nothing_or_to_no_number_are_refused(weight: float) -> None:
    with pytest.raises(SpellError, match="It must be between 1e-150 and 1e"):
        Spells.of([0, 0, 0], [100, 200, 300], [True, False, True], weight=[weight] * 3)


@pytest.mark.parametrize("weight", [1e-149, 1e149])
def test_the_smallest_and_largest_weights_leave_shape_and_curve_as_they_are(weight: float) -> None:
    lives = ([0, 0, 0, 0], [100, 200, 300, 400], [True, False, True, True])
    one, other = Spells.of(*lives), Spells.of(*lives, weight=[weight] * 4)
    assert fit_weibull(other).shape == pytest.approx(fit_weibull(one).shape, rel=1e-6)
    assert fit_weibull(other).scale_h == pytest.approx(fit_weibull(one).scale_h, rel=1e-6)
