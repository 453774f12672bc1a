"""How far a Brownian bridge strays on a part of its way: the critical values of whole-curve bands.

Both laws are computed, not read from a table: the plain bridge by the modes of a killed Brownian
motion, the bridge over its own standard deviation by those of an Ornstein-Uhlenbeck process.

The papers behind them are cited from memory. What holds the values: 100,000 bridges drawn, seed
stated, keep within them as often as they say to 0.003, on four parts of the way
(``tests/coverage/test_bridge_draws.py``); the whole way has the quantiles of Kolmogorov in scipy,
and the entries known of published tables are met (``tests/unit/test_simultaneous.py``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, SHARE, gate
from fleetstats.core.value import Array

_NODES = 160
_MODES = 120
_COSINES = 32
NARROWEST = 1e-3
"""Least part of a bridge's way for which there are modes enough; a shorter one is a point."""


@cache
def _waves() -> tuple[Array, Array, Array, Array]:
    """Return nodes and weights of Gauss and Legendre, and the even sines and cosines there."""
    x, w = np.polynomial.legendre.leggauss(_NODES)
    odd = 0.5 * math.pi * np.arange(1, 2 * _MODES, 2)
    return x, w, np.sin(np.outer(odd, x + 1.0)), np.cos(np.outer(odd[:_COSINES], x))


def chance_bridge_within(bound: float, start: float, end: float) -> float:
    """Return the chance that ``|B(u)| <= bound`` for all u from `start` to `end`.

    Parameters
    ----------
    bound : float
        Above 0.
    start, end : float
        ``0 <= start < end <= 1``; 0 to 1 gives the law of Kolmogorov (1933).

    Notes
    -----
    A bridge is a Brownian motion known to be at 0 at 0 and 1. Its density at `start` is carried to
    `end` by a motion killed at the two bounds, whose modes are sines (Hall & Wellner 1980 give the
    law in another form).
    """
    width = end - start
    n = np.arange(1, 2 * _MODES, 2)
    x, w, waves, _ = _waves()

    def overlap(variance: float) -> Array:
        if variance <= 0.0:
            return np.asarray(np.sin(0.5 * math.pi * n))
        density = np.exp(-0.5 * (bound * x) ** 2 / variance) / math.sqrt(2.0 * math.pi * variance)
        return np.asarray(bound * (waves @ (w * density)))

    decay = np.exp(-0.125 * (math.pi * n / bound) ** 2 * width)
    total = float((overlap(start) * overlap(1.0 - end) * decay).sum())
    return min(1.0, max(0.0, math.sqrt(2.0 * math.pi) * total / bound))


def chance_scaled_bridge_within(bound: float, start: float, end: float) -> float:
    """Return the chance that ``|B(u)| <= bound * sqrt(u (1 - u))`` for all u from `start` to `end`.

    Parameters
    ----------
    bound : float
        Above 0.
    start, end : float
        ``0 < start < end < 1``: the scaled bridge strays for ever at either end.

    Notes
    -----
    In ``s = log(u / (1 - u)) / 2`` the scaled bridge is a stationary Ornstein-Uhlenbeck process
    (Doob 1949), killed at the two bounds. Divided by the root of the normal density its generator
    is that of a harmonic oscillator in a box, whose modes are sums of cosines. Nair (1984)
    approximates the same law.
    """
    span = 0.5 * (math.log(end / (1.0 - end)) - math.log(start / (1.0 - start)))
    n = np.arange(1, 2 * _COSINES, 2)
    x, w, _, waves = _waves()
    at = bound * x
    energy = (waves * (w * (0.25 * at**2 - 0.5))) @ waves.T
    energy[np.diag_indices(_COSINES)] += (0.5 * math.pi * n / bound) ** 2
    rates, modes = np.linalg.eigh(energy)
    root = np.exp(-0.25 * at**2) / (2.0 * math.pi) ** 0.25
    share = modes.T @ (math.sqrt(bound) * (waves @ (w * root)))
    return min(1.0, max(0.0, float((share**2 * np.exp(-rates * span)).sum())))


@gate(level=LEVEL, start=SHARE, end=SHARE)
def critical_bridge(level: float, start: float, end: float) -> float:
    """Return the bound that a bridge keeps from `start` to `end` with the chance `level`.

    Raises
    ------
    ArgumentError
        If `level`, `start` or `end` is not within 0 and 1.
    FitError
        If the part of the way is too short.

    Examples
    --------
    >>> from fleetstats.survival.counting.brownian_bounds import critical_bridge
    >>> round(critical_bridge(0.95, 0.0, 1.0), 4)
    1.3581
    """
    if start > end - NARROWEST:
        raise FitError(
            f"No bound of a bridge from {start:g} to {end:g}.",
            "Use a part of 0 to 1 no less than a thousandth.",
        )
    return _bound_of(lambda c: chance_bridge_within(c, start, end), level, 0.05)


@gate(level=LEVEL, start=SHARE, end=SHARE)
def critical_scaled_bridge(level: float, start: float, end: float) -> float:
    """Return the bound that a scaled bridge keeps from `start` to `end` with the chance `level`.

    Raises
    ------
    ArgumentError
        If `level`, `start` or `end` is not within 0 and 1.
    FitError
        If the part of the way is too short, or touches 0 or 1.

    Examples
    --------
    >>> from fleetstats.survival.counting.brownian_bounds import critical_scaled_bridge
    >>> round(critical_scaled_bridge(0.95, 0.1, 0.6), 4)
    2.8873
    """
    if not 0.0 < start <= end - NARROWEST < 1.0 - NARROWEST:
        raise FitError(
            f"No bound of a scaled bridge from {start:g} to {end:g}.",
            "Use a part inside 0 to 1 no less than a thousandth.",
        )
    return _bound_of(lambda c: chance_scaled_bridge_within(c, start, end), level, 0.1)


def _bound_of(chance: Callable[[float], float], level: float, least: float) -> float:
    """Return the bound, from `least` on, that is kept with the chance `level`."""
    from scipy import optimize

    return float(optimize.brentq(lambda c: chance(c) - level, least, 12.0, xtol=1e-9))
