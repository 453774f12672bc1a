"""The Weibull fits of a large fleet without each of some engines, from sums made once.

Without one of very many lives the shape moves by next to nothing, so that the sums of all at the
new shape follow from those at the old by their Taylor series, and the engine's own are taken off
exactly. With ``S_k(b) = sum w (t^b log^k t - e^b log^k e)`` the shape b solves

    S_1 / S_0 - 1 / b = mean log age at failure,

and the scale is ``(S_0 / r)^(1 / b)``, r being the failures (Lawless 2003, section 5.2, from
memory; delayed entry as in `weibull_kernel`).
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.weibull.weibull_kernel import WeibullSolution

LEAST_LIVES = 2_000
"""Lives from which on it is done so."""

LEAST_FAILED = 50
"""Failures from which on it is done so: none of them is then missed much."""

FURTHEST = 0.02
"""Part of the shape by which it may move; the series is then right to 1e-13."""

_POWERS = 10
_STEPS = 8


def fits_without(
    lives: tuple[Array, Array, Array, Array], place: Array, which: Array, whole: WeibullSolution
) -> tuple[Array, Array]:
    """Return (m,) shapes and scales in hours without each of some engines.

    Parameters
    ----------
    lives : tuple of (n,) arrays
        Hours of entry and of the end, whether it failed, and what each row weighs.
    place : (n,) int
        The engine of each row.
    which : (m,) int
        Those left out, one at a time.
    whole : WeibullSolution
        The fit of all.

    Returns
    -------
    (m,) float, (m,) float
        NaN where the fleet is too small, or one engine moves the shape too far: there a fit of its
        own is asked for.
    """
    entry, end, failed, weight = lives
    none = np.full(len(which), np.nan)
    r, b0 = float(weight[failed].sum()), whole.shape
    if len(end) < LEAST_LIVES or r < LEAST_FAILED:
        return none, none
    log_t = np.log(end / whole.scale_h)
    late = entry > 0.0
    log_e = np.log(entry[late] / whole.scale_h)
    total = _sums(log_t, weight, b0, _POWERS) - _sums(log_e, weight[late], b0, _POWERS)
    log_failed = float(weight[failed] @ log_t[failed])

    number = np.full(int(place.max()) + 1, -1)
    number[which] = np.arange(len(which))
    rows = np.flatnonzero(number[place] >= 0)
    own = number[place[rows]]
    w, y, x = weight[rows], log_t[rows], np.full(len(rows), -np.inf)
    x[late[rows]] = np.log(entry[rows[late[rows]]] / whole.scale_h)

    def of_each(values: Array) -> Array:
        return np.bincount(own, weights=values, minlength=len(which))

    dead = failed[rows]
    left = r - of_each(w * dead)
    mean = (log_failed - of_each(np.where(dead, w * y, 0.0))) / left
    b = np.full(len(which), b0)
    for _ in range(_STEPS):
        s = _moved(total, b - b0) - np.stack([of_each(w * v) for v in _powers(y, x, b[own])])
        s1, s2 = s[1] / s[0], s[2] / s[0]
        b = b - (s1 - 1.0 / b - mean) / (s2 - s1**2 + 1.0 / b**2)
        b = np.clip(b, (1.0 - 2.0 * FURTHEST) * b0, (1.0 + 2.0 * FURTHEST) * b0)
    s0 = _moved(total, b - b0)[0] - of_each(w * _powers(y, x, b[own])[0])
    with np.errstate(invalid="ignore", divide="ignore"):
        scale = whole.scale_h * (s0 / left) ** (1.0 / b)
    good = (np.abs(b - b0) < FURTHEST * b0) & np.isfinite(scale)
    return np.where(good, b, np.nan), np.where(good, scale, np.nan)


def _sums(y: Array, weight: Array, b: float, n: int) -> Array:
    """Return (n,) sums of w exp(b y) y^k."""
    out, part = np.empty(n), weight * np.exp(b * y)
    for k in range(n):
        out[k] = part.sum()
        part *= y
    return out


def _moved(total: Array, by: Array) -> Array:
    """Return (3, m) sums of power 0 to 2 at shapes moved by `by` (m,), from those at the old."""
    terms = np.array([by**j / math.factorial(j) for j in range(len(total) - 2)])
    return np.stack([total[k : k + len(terms)] @ terms for k in range(3)])


def _powers(y: Array, x: Array, b: Array) -> tuple[Array, Array, Array]:
    """Return exp(b y) y^k less the same of `x`, which is minus infinity where followed from new."""
    at_end, at_entry = np.exp(b * y), np.exp(b * x)
    begun = np.where(np.isfinite(x), x, 0.0)
    return (
        at_end - at_entry,
        at_end * y - at_entry * begun,
        at_end * y**2 - at_entry * begun**2,
    )
