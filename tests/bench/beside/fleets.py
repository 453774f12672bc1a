"""Invented lives of any size, the same at every call; shape 2.5, scale 2,500 h."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

SHAPE, SCALE_H = 2.5, 2500.0


@dataclass(frozen=True, eq=False)
class Lives:
    """Columns of n lives, and what some tasks need beside."""

    entry: np.ndarray
    end: np.ndarray
    failed: np.ndarray
    more: dict[str, np.ndarray]

    @property
    def grid(self) -> np.ndarray:
        """Ages at which curves are compared."""
        return np.linspace(0.1, 0.9, 81) * self.end.max()


@functools.lru_cache(maxsize=2)
def lives(n: int, *, late: bool = False, digits: int = 9) -> Lives:
    """Return lives, about half of them failed; hours to so many digits."""
    rng = np.random.default_rng(1)
    entry = np.where(late & (rng.random(n) < 0.5), np.round(rng.uniform(0, 1500, n), digits), 0.0)
    life = SCALE_H * (rng.exponential(size=n) + (entry / SCALE_H) ** SHAPE) ** (1 / SHAPE)
    stop = entry + rng.uniform(100, 4000, n)
    end = np.round(np.minimum(life, stop), digits)
    return Lives(entry, np.maximum(end, entry + 10.0**-digits), life <= stop, {})


@functools.lru_cache(maxsize=2)
def checked(n: int, digits: int = 9) -> Lives:
    """Return lives whose failures are found at checks every 100 h or so."""
    rng = np.random.default_rng(2)
    life = SCALE_H * rng.exponential(size=n) ** (1 / SHAPE)
    phase, step = rng.uniform(20, 100, n), rng.uniform(80, 120, n)
    stop = rng.uniform(400, 4000, n)
    checks = np.floor((np.minimum(life, stop) - phase) / step)
    lower = np.round(np.where(checks < 0, 0.0, phase + np.maximum(checks, 0) * step), digits)
    upper = np.round(np.where(checks < 0, phase, phase + (checks + 1) * step), digits)
    failed = life <= stop
    # nobody runs on past his last check without having been seen there
    end = np.where(failed, upper, np.maximum(np.round(stop, digits), lower))
    lower = np.where(failed, lower, end)
    return Lives(np.zeros(n), end, failed, {"lower": lower})


@functools.lru_cache(maxsize=2)
def with_covariates(n: int, *, late: bool = False, k: int = 5) -> Lives:
    """Return lives whose hazard grows with `k` covariates, some of them 0 or 1."""
    rng = np.random.default_rng(3)
    x = rng.normal(size=(n, k))
    x[:, 1::2] = x[:, 1::2] > 0.5
    hazard = np.exp(x @ np.linspace(0.4, -0.3, k))
    entry = np.where(late & (rng.random(n) < 0.5), rng.uniform(0, 1500, n), 0.0)
    life = SCALE_H * (rng.exponential(size=n) / hazard + (entry / SCALE_H) ** SHAPE) ** (1 / SHAPE)
    stop = entry + rng.uniform(100, 4000, n)
    more = {f"x{j + 1}": np.ascontiguousarray(x[:, j]) for j in range(k)}
    return Lives(entry, np.minimum(life, stop), life <= stop, more)


@functools.lru_cache(maxsize=2)
def two_causes(n: int) -> Lives:
    """Return lives ended by one of two causes (1 or 2), or by neither (0)."""
    rng = np.random.default_rng(4)
    life = SCALE_H * rng.exponential(size=n) ** (1 / SHAPE)
    other = 4000.0 * rng.exponential(size=n)
    stop = rng.uniform(200, 4000, n)
    end = np.minimum(np.minimum(life, other), stop)
    cause = np.where(end == stop, 0, np.where(end == life, 1, 2))
    return Lives(np.zeros(n), end, cause == 1, {"cause": cause})


@dataclass(frozen=True, eq=False)
class Recurrent:
    """n engines watched from new to `stop`, and events on them, by engine and hours."""

    stop: np.ndarray
    unit: np.ndarray
    hours: np.ndarray

    @property
    def grid(self) -> np.ndarray:
        """Ages at which curves are compared."""
        return np.linspace(0.05, 0.9, 60) * self.stop.max()


@functools.lru_cache(maxsize=2)
def recurrent(n: int) -> Recurrent:
    """Return engines with five events or so, some engines worse than others."""
    rng = np.random.default_rng(5)
    stop = rng.uniform(500, 4000, n)
    many = rng.poisson(stop / 450.0 * rng.gamma(2.0, 0.5, n))
    unit = np.repeat(np.arange(n), many)
    hours = rng.uniform(0.0, 1.0, len(unit)) * stop[unit]
    order = np.lexsort((hours, unit))
    return Recurrent(stop, unit[order], hours[order])
