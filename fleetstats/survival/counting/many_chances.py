"""The Poisson-binomial law of many engines, by its Fourier transform.

The recursion over engines costs engines times counts, which grows with the square of a fleet; here
the cost grows with the engines. The transform of the law is the product of ``1 + p (z - 1)`` over
engines at points z of the unit circle, so its log is a sum of powers of ``z - 1`` whose weights
are the sums of the powers of the chances: those are added up once, and serve at every point.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from fleetstats.core.value import Array

Recursion = Callable[[Array, int], Array]

ERROR = 1e-12
"""By how much a probability may differ from that of the recursion; tests hold the two together."""

_NOTHING = 36.0
"""Minus log of the size of a transform that is taken for 0: 2e-16."""

_STEEPEST = 0.5
"""Ratio of one power to the one before, up to which an engine's chance is taken by powers."""

_CELLS = 32_768
"""Cells multiplied at once: what a processor keeps near it."""

_LEFT_OUT = 1e-15
"""What the first power left out may add to the log of a transform."""


def law_by_transform(table: Array, most: int, recursion: Recursion) -> Array:
    """Return the laws of the number of failures, one row to a fleet.

    Parameters
    ----------
    table : (B, n) float
        Chances of failing, one column to an engine.
    most : int
        Highest count kept; what lies above goes to the last.
    recursion : callable
        The law of the few engines whose chance is too near a half for powers, by `most`.

    Returns
    -------
    (B, most + 1) float
        Each within `ERROR` of the recursion's.

    References
    ----------
    Inversion of the characteristic function: Hong 2013, Computational Statistics & Data Analysis
    59, from memory. That ``|1 + p (z - 1)|^2 = 1 - 2 p (1 - p) (1 - cos w)`` bounds where it
    counts, and the series of the log, are worked out here.
    """
    out = np.empty((len(table), most + 1))
    for rows, spread in _alike(table):
        wave, length = _waves(table[rows], spread, recursion)
        out[rows] = _folded(_turned_back(wave, length), most)
    return out


def mean_law_by_transform(table: Array, most: int, recursion: Recursion) -> Array:
    """Return (most + 1,) the mean of what `law_by_transform` gives: the mean is transformed."""
    out = np.zeros(most + 1)
    for rows, spread in _alike(table):
        wave, length = _waves(table[rows], spread, recursion)
        mean = _turned_back(wave.mean(axis=0, keepdims=True), length)
        out += len(rows) * _folded(mean, most)[0]
    return out / len(table)


def _alike(table: Array) -> Iterator[tuple[Array, Array]]:
    """Yield the rows of fleets whose variances are alike, and those."""
    spread = np.einsum("ij,ij->i", table, 1.0 - table)
    # fleets that fail alike stand together: what one of low chances asks for, of points and of
    # powers, would make many engines of another too likely to fail for powers
    alike = np.floor(np.log2(np.maximum(spread, 1.0)))
    for kind in np.unique(alike):
        rows = np.flatnonzero(alike == kind)
        yield rows, spread[rows]


def _turned_back(wave: Array, length: int) -> Array:
    return np.asarray(np.maximum(np.fft.irfft(wave, length, axis=1), 0.0))


def _waves(table: Array, spread: Array, recursion: Recursion) -> tuple[Array, int]:
    """Return the transforms of the laws of fleets whose variances (B,) are alike, and how long."""
    from scipy.fft import next_fast_len

    turn = min(2.0, _NOTHING / max(float(spread.min()), 1e-300))  # 1 - cos w at the last point
    size = np.sqrt(2.0 * turn)
    highest, lowest = table.max(axis=0), table.min(axis=0)
    rare = highest * size <= _STEEPEST
    sure = ~rare & ((1.0 - lowest) * size <= _STEEPEST)
    mean = float(table.sum(axis=1).max())
    top = min(table.shape[1], int(np.ceil(mean + 10.0 * np.sqrt(mean) + 40.0)))
    length = next_fast_len(top + 1, real=True)
    angle = 2.0 * np.pi * np.arange(length // 2 + 1) / length
    angle = angle[1.0 - np.cos(angle) <= turn]
    step = np.exp(-1j * angle) - 1.0
    log_at = _log_transform(table[:, rare], step, size)
    log_at += _log_transform(1.0 - table[:, sure], step.conj(), size)
    log_at -= 1j * np.count_nonzero(sure) * angle
    wave = np.zeros((len(table), length // 2 + 1), dtype=np.complex128)
    wave[:, : len(angle)] = np.exp(log_at)
    if not np.all(rare | sure):
        few = table[:, ~(rare | sure)]
        wave *= np.fft.rfft(recursion(few, min(few.shape[1], top)), length, axis=1)
    return wave, length


def _log_transform(table: Array, step: Array, size: float) -> Array:
    """Return (B, k) sums over engines of ``log(1 + p step)``, `step` (k,) at most `size`."""
    if not table.size:
        return np.zeros((len(table), len(step)), dtype=np.complex128)
    ratio = max(float(table.max()) * size, 1e-12)
    first = max(float(table.sum(axis=1).max()) * size, _LEFT_OUT)
    n = max(2, int(np.ceil(1.0 + np.log(_LEFT_OUT / first) / np.log(ratio))))
    sums = _power_sums(table, n) * ((-1.0) ** np.arange(n) / np.arange(1, n + 1))
    powers = step[None, :] ** np.arange(1, n + 1)[:, None]
    return np.asarray(sums @ powers.real + 1j * (sums @ powers.imag))


def _power_sums(table: Array, n: int) -> Array:
    """Return (B, n) sums over engines of the first, second … n-th power of their chances."""
    out = np.empty((len(table), n))
    block = max(1, _CELLS // table.shape[1])
    for i in range(0, len(table), block):
        part = np.ascontiguousarray(table[i : i + block])
        power = part.copy()
        for m in range(n):
            power.sum(axis=1, out=out[i : i + block, m])
            power *= part
    return out


def _folded(law: Array, most: int) -> Array:
    """Return laws up to `most`, what lies above in the last, each of sum 1."""
    out = np.zeros((len(law), most + 1))
    kept = min(most + 1, law.shape[1])
    out[:, :kept] = law[:, :kept]
    out[:, kept - 1] += law[:, kept:].sum(axis=1)
    return np.asarray(out / out.sum(axis=1, keepdims=True))
