"""The laws of life that forecasts are averaged over, and what is held of each before the data.

Every law is told by the log of its cumulative hazard at a reference age, with one and the same
prior for all, and by a few further numbers; every number is normal before the data. Formulas:
Lawless 2003, chapter 1; mixtures and competing modes: Meeker, Escobar & Pascual 2021, section 5.6.
The priors are our own: wide where the trade has seen such engines, and so that the shape of each
law lies about where the default prior on a Weibull's shape has it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array

LEVEL_SD = 2.0
"""Spread of the log cumulative hazard at the reference age about its guess."""

LEAST = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeLaw:
    """One law.

    `hazard` takes the numbers (N, k), level first, and ratios of age to the reference age (G,), and
    returns the cumulative hazard (N, G). `middle` and `spread` (k - 1,) are the prior of the
    numbers after the level; `before` is the law's weight before the data.
    """

    key: str
    hazard: Callable[[Array, Array], Array]
    middle: tuple[float, ...]
    spread: tuple[float, ...]
    before: float


def _column(theta: Array, k: int) -> Array:
    return np.asarray(theta[:, k, None])


def _capped(x: Array) -> Array:
    """Return e to the power of x, kept within what a number can hold."""
    return np.asarray(np.exp(np.clip(x, -690.0, 690.0)))


def constant(theta: Array, x: Array) -> Array:
    """Return the cumulative hazard of failures that do not hang on age."""
    return _capped(_column(theta, 0) + np.log(np.maximum(x, LEAST)))


def weibull(theta: Array, x: Array) -> Array:
    """Return the Weibull's; the number is its log shape."""
    return _capped(_column(theta, 0) + np.exp(_column(theta, 1)) * np.log(np.maximum(x, LEAST)))


def lognormal(theta: Array, x: Array) -> Array:
    """Return the lognormal's; the number is minus the log of its spread."""
    from scipy.special import log_ndtr, ndtri

    share = np.clip(-np.expm1(-_capped(_column(theta, 0))), LEAST, 1.0 - 1e-15)
    z = ndtri(share) + np.exp(_column(theta, 1)) * np.log(np.maximum(x, LEAST))
    return np.asarray(-log_ndtr(-z))


def log_logistic(theta: Array, x: Array) -> Array:
    """Return the log-logistic's: odds of failure rise as a power of age; the number is its log."""
    odds = np.expm1(np.minimum(_capped(_column(theta, 0)), 690.0))
    return np.asarray(np.log1p(odds * _capped(np.exp(_column(theta, 1)) * np.log(
        np.maximum(x, LEAST)))))  # fmt: skip


def gamma(theta: Array, x: Array) -> Array:
    """Return the gamma's; the number is its log shape."""
    from scipy.special import gammaincc, gammainccinv

    shape = np.exp(np.minimum(_column(theta, 1), 6.0))
    left = np.exp(-np.minimum(_capped(_column(theta, 0)), 600.0))
    at = gammainccinv(shape, left)
    return np.asarray(-np.log(np.maximum(gammaincc(shape, at * x), LEAST)))


def weak_share(theta: Array, x: Array) -> Array:
    """Return that of a share of weak engines among sound ones.

    Numbers: log shape of the sound, logit of the share, and of the weak the log of the ratio at
    which 63 % have failed, and log shape.
    """
    log_x = np.log(np.maximum(x, LEAST))
    sound = _capped(_column(theta, 0) + np.exp(_column(theta, 1)) * log_x)
    share = 1.0 / (1.0 + np.exp(-_column(theta, 2)))
    weak = _capped(np.exp(_column(theta, 4)) * (log_x - _column(theta, 3)))
    left = share * np.exp(-weak) + (1.0 - share) * np.exp(-np.minimum(sound, 690.0))
    return np.asarray(np.where(sound < 600.0, -np.log(np.maximum(left, LEAST)), sound))


def bathtub(theta: Array, x: Array) -> Array:
    """Return that of two modes in competition, one that falls with age and one that wears out.

    Numbers: logit of the late mode's part at the reference age, log shapes of both.
    """
    log_x = np.log(np.maximum(x, LEAST))
    level, logit = _column(theta, 0), _column(theta, 1)
    early = _capped(level - np.logaddexp(0.0, logit) + np.exp(_column(theta, 2)) * log_x)
    late = _capped(level - np.logaddexp(0.0, -logit) + np.exp(_column(theta, 3)) * log_x)
    return np.asarray(early + late)


LAWS = (
    LifeLaw(key="constant", hazard=constant, middle=(), spread=(), before=0.12),
    LifeLaw(key="Weibull", hazard=weibull, middle=(0.9,), spread=(0.6,), before=0.30),
    LifeLaw(key="lognormal", hazard=lognormal, middle=(0.5,), spread=(0.6,), before=0.10),
    LifeLaw(key="log-logistic", hazard=log_logistic, middle=(0.9,), spread=(0.6,), before=0.10),
    LifeLaw(key="gamma", hazard=gamma, middle=(1.3,), spread=(0.9,), before=0.10),
    LifeLaw(key="weak share", hazard=weak_share, middle=(1.1, -2.6, -0.9, 0.9),
            spread=(0.5, 1.0, 0.5, 0.4), before=0.10),
    LifeLaw(key="bathtub", hazard=bathtub, middle=(-1.0, -0.5, 1.6), spread=(1.5, 0.35, 0.4),
            before=0.18),
)  # fmt: skip
"""Every law; what each weighs before the data is our own choice. The Weibull weighs three times
what another plain law does; the bathtub more than they, since wear that has not yet been seen is
what a young fleet's forecast cannot read off its records."""
