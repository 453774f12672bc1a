"""Posteriors by two roads: closed forms and mixtures against sums over a plain grid."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from fleetstats.bands.bayes.mixture import MIDDLE, PESSIMISTIC, ShapeMixture
from fleetstats.bands.bayes.posterior import LifePrior, fit_posterior, posterior_interval
from fleetstats.bands.bayes.prior import ShapePrior, count_lives
from fleetstats.bands.choose import band
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival import fit_weibull

RNG = np.random.default_rng(8)
STOP = RNG.uniform(200, 1500, 60)
ENTRY = np.where(np.arange(60) % 3 == 0, 0.4 * STOP, 0.0)
LIFE = 2000 * ((ENTRY / 2000) ** 2 + RNG.exponential(size=60)) ** 0.5
FAILED = LIFE <= STOP
LIVES = Spells.of(ENTRY, np.minimum(LIFE, STOP), FAILED)
UP = np.where(FAILED, np.ceil(LIVES.exit_upper / 50) * 50, LIVES.exit_upper)
GAPS = Spells.of(ENTRY, UP, FAILED, exit_lower=np.where(FAILED, np.maximum(UP - 50, ENTRY), UP))


LogPrior = Callable[[np.ndarray, np.ndarray], np.ndarray]


def plain_posterior(
    lives: Spells, log_prior: LogPrior
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sum the posterior over a grid of (log shape, log scale) with nothing clever."""
    theta = np.linspace(np.log(0.4), np.log(7.0), 161)
    scale = np.linspace(np.log(600.0), np.log(40000.0), 501)
    log_like = np.empty((161, 501))
    eta = np.exp(scale)[:, None]
    for k, b in enumerate(np.exp(theta)):
        h = [(a / eta) ** b for a in (lives.entry, lives.exit_lower, lives.exit_upper)]
        density = h[0] - h[2] + np.log(b / lives.exit_upper) + b * np.log(lives.exit_upper / eta)
        with np.errstate(divide="ignore"):
            between = h[0] - h[1] + np.log(-np.expm1(h[1] - h[2]))
        row = np.where(lives.interval_known, between, density)
        log_like[k] = np.where(lives.failed, row, h[0] - h[2]).sum(axis=1)
    log_rate = -np.exp(theta)[:, None] * scale[None, :]
    # d log rate at fixed shape is shape times d log scale
    log_post = log_like + theta[:, None] + log_prior(theta, log_rate)
    w = np.exp(log_post - log_post.max())
    return theta, scale, w / w.sum()


def quantile_of(values: np.ndarray, weight: np.ndarray, p: float) -> float:
    order = np.argsort(values.ravel())
    total = np.cumsum(weight.ravel()[order])
    return float(np.interp(p, total, values.ravel()[order]))


def test_the_mixture_against_a_plain_grid() -> None:
    prior = ShapePrior(median=2.0, log_sd=0.5, stated=True)
    mixed = ShapeMixture.of_spells(LIVES, prior)
    added = MIDDLE

    def log_prior(theta: np.ndarray, log_rate: np.ndarray) -> np.ndarray:
        power = np.array([(LIVES.exit_upper**b - LIVES.entry**b).sum() for b in np.exp(theta)])
        log_mean = log_rate + np.log(power)[:, None]
        z = (theta - np.log(2.0)) / 0.5
        return added * log_mean - 0.5 * (z * z)[:, None]

    theta, scale, w = plain_posterior(LIVES, log_prior)
    b10 = np.exp(scale)[None, :] * (-np.log(0.9)) ** (1 / np.exp(theta))[:, None]
    r = np.exp(-((1200.0 / np.exp(scale)[None, :]) ** np.exp(theta)[:, None]))
    for p in (0.05, 0.5, 0.95):
        found = float(mixed.bound(Quantity.life(0.1), p, added=added)[0])
        assert found == pytest.approx(quantile_of(b10, w, p), rel=2e-3)
        found = float(mixed.bound(Quantity.reliability(1200.0), p, added=added)[0])
        assert found == pytest.approx(quantile_of(r, w, p), abs=1e-3)
    q = Quantity.life(0.1)
    edge = mixed.bound(q, 0.05, added=PESSIMISTIC)
    assert float(mixed.below(q, edge, added=PESSIMISTIC)[0]) == pytest.approx(0.05, abs=1e-9)
    shape, size = mixed.draw(40_000, stream(1, "test"), added=added)
    drawn = np.quantile(size * (-np.log(0.9)) ** (1 / shape), 0.05)
    assert drawn == pytest.approx(float(mixed.bound(q, 0.05, added=added)[0]), rel=0.02)


def test_failures_between_checks_hardly_move_the_mixture() -> None:
    # gaps of 50 h in lives of 1,500 h say nearly what exact ages say; and the gamma with the peak
    # and curvature of each section stands in for it
    exact = band(LIVES, fit_weibull(LIVES), Quantity.life(0.1), level=0.9)
    found = band(GAPS, fit_weibull(GAPS), Quantity.life(0.1), level=0.9)
    assert found.low == pytest.approx(exact.low, rel=0.03)
    assert found.high == pytest.approx(exact.high, rel=0.03)
    prior = ShapePrior(median=2.0, log_sd=0.5, stated=True)
    mixed = ShapeMixture.of_spells(GAPS, prior)

    def log_prior(theta: np.ndarray, log_rate: np.ndarray) -> np.ndarray:
        z = (theta - np.log(2.0)) / 0.5
        return np.broadcast_to(-0.5 * (z * z)[:, None], log_rate.shape)

    theta, scale, w = plain_posterior(GAPS, log_prior)
    b10 = np.exp(scale)[None, :] * (-np.log(0.9)) ** (1 / np.exp(theta))[:, None]
    for p in (0.05, 0.95):
        edge = float(mixed.bound(Quantity.life(0.1), p, added=1e-9)[0])
        assert edge == pytest.approx(quantile_of(b10, w, p), rel=5e-3)


def test_the_bayesian_route_against_a_plain_grid() -> None:
    shape = ShapePrior(median=2.0, log_sd=0.5)
    life = LifePrior(p=0.1, median_h=900.0, log_sd=0.8)
    for lives in (LIVES, GAPS):
        post = fit_posterior(lives, shape, life)

        def log_prior(theta: np.ndarray, log_rate: np.ndarray) -> np.ndarray:
            b = np.exp(theta)[:, None]
            log_t = (np.log(-np.log(0.9)) - log_rate) / b
            z, y = (theta - np.log(2.0)) / 0.5, (log_t - np.log(900.0)) / 0.8
            return np.asarray(-0.5 * (z * z)[:, None] - 0.5 * y * y - theta[:, None])

        theta, scale, w = plain_posterior(lives, log_prior)
        b10 = np.exp(scale)[None, :] * (-np.log(0.9)) ** (1 / np.exp(theta))[:, None]
        one = posterior_interval(post, Quantity.life(0.1), level=0.9)
        assert one.low == pytest.approx(quantile_of(b10, w, 0.05), rel=2e-3)
        assert one.estimate == pytest.approx(quantile_of(b10, w, 0.5), rel=2e-3)
        assert one.high == pytest.approx(quantile_of(b10, w, 0.95), rel=2e-3)
    with pytest.raises(BandError, match="flat prior on life"):
        fit_posterior(Spells.of([0.0], [100.0], [0]), shape)


def test_a_life_cut_in_two_is_one_life() -> None:
    assert count_lives(LIVES) == 60
    assert count_lives(LIVES.split_at(400.0).split_at(800.0)) == 60
    assert count_lives(LIVES.join(LIVES).collapse()) == 120
    # a second life after a failure is a life of its own
    twice = Spells.of([0, 500], [500, 900], [1, 0], unit=["a", "a"])
    assert count_lives(twice) == 2
