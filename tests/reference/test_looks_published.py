"""Boundaries at repeated looks, and edges that hold at every look, against other sources."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import norm

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.looks.any_number import any_number_edges
from fleetstats.bands.looks.crossing import chance_ever
from fleetstats.bands.looks.spending import deviates_of, spent_by
from fleetstats.spells import Spells

FIVE = [1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("kind", "published"),
    [
        ("late", [4.8769, 3.3569, 2.6803, 2.2898, 2.0310]),
        ("even", [2.4380, 2.4268, 2.4101, 2.3966, 2.3859]),
    ],
)
def test_spending_boundaries_at_five_equal_looks(kind: str, published: list[float]) -> None:
    """Lan & DeMets 1983 and the tables worked out by their method, one-sided 2.5 %; from memory."""
    z = deviates_of(FIVE, [spent_by(kind, k / 5, 0.025) for k in FIVE])
    assert z == pytest.approx(published, abs=2e-4)


@pytest.mark.parametrize(
    ("looks", "pocock", "falling"),
    [(2, 2.178, 1.977), (5, 2.413, 2.040), (10, 2.555, 2.087)],
)
def test_constants_of_pocock_and_of_obrien_and_fleming(
    looks: int, pocock: float, falling: float
) -> None:
    """Jennison & Turnbull 2000, tables 2.1 and 2.3, two-sided 5 %; from memory."""
    at = np.arange(1, looks + 1)
    assert chance_ever(at, [pocock] * looks, both=True) == pytest.approx(0.05, abs=1e-4)
    boundary = falling * np.sqrt(looks / at)
    assert chance_ever(at, boundary, both=True) == pytest.approx(0.05, abs=1e-4)


@pytest.mark.parametrize(("looks", "published"), [(1, 0.05), (2, 0.083), (5, 0.142), (10, 0.193)])
def test_looks_taken_each_by_itself(looks: int, published: float) -> None:
    """Armitage, McPherson & Rowe 1969: repeated two-sided 5 % tests; from memory."""
    got = chance_ever(range(1, looks + 1), [norm.isf(0.025)] * looks, both=True)
    assert got == pytest.approx(published, abs=6e-4)


def test_two_looks_against_the_bivariate_normal() -> None:
    """Two looks are a bivariate normal with correlation root of I1 / I2."""
    from scipy.stats import multivariate_normal

    low = multivariate_normal.cdf([1.7, 2.1], cov=[[1, np.sqrt(0.3)], [np.sqrt(0.3), 1]])
    assert chance_ever([3, 10], [1.7, 2.1]) == pytest.approx(1.0 - low, abs=1e-6)


AGES = np.tile([300.0, 500, 700, 900, 1100, 1300, 1500, 1600, 1700, 1800], 6)
FAILED = np.tile([0, 0, 0, 0, 1, 0, 0, 1, 0, 0], 6)


@pytest.mark.parametrize("side", [1, -1])
def test_any_number_edges_by_numerical_integration(side: int) -> None:
    """The posterior's normaliser by adaptive quadrature, the profile by a bounded search.

    The chance R at 1,000 h and the shape are the parameters; 12 of 60 failed, the limit is 0.8.
    """
    hours, limit, alpha = 1000.0, 0.8, 0.05
    centre = np.log(-np.log(limit))

    def fit(theta: float, score: float) -> float:
        shape, rise = np.exp(theta), np.exp(score) * (AGES / hours) ** np.exp(theta)
        log_rate = score + theta + shape * np.log(AGES / hours)
        return float((FAILED * log_rate).sum() - rise.sum())

    def profile(score: float) -> float:
        out = minimize_scalar(lambda x: -fit(x, score), bounds=(-2.0, 3.5), method="bounded",
                              options={"xatol": 1e-10})  # fmt: skip
        return -float(out.fun)

    best = minimize_scalar(lambda s: -profile(s), bounds=(-6.0, 2.0), method="bounded").x
    top = profile(best)
    low, high = (centre - 7.0, centre) if side > 0 else (centre, centre + 7.0)
    weight, _ = dblquad(
        lambda s, x: (
            np.exp(fit(x, s) - top) * norm.pdf(x, np.log(3.0), 0.7) * 2.0 * norm.pdf(s, centre)
        ),
        -2.0, 4.0, low, high, epsabs=1e-9,
    )  # fmt: skip
    least = np.log(weight) + top - np.log(1.0 / alpha)
    edge = brentq(lambda s: profile(s) - least, best, best + side * 6.0)
    spells = Spells.of(0.0, AGES, FAILED)
    out = any_number_edges(spells, hours, limit, alpha=alpha, prior=ShapePrior())
    got = out.low if side > 0 else out.high
    assert got == pytest.approx(np.exp(-np.exp(edge)), abs=1e-4)
