"""The upper bound of a Poisson mean at very many levels: one row of failures, a curve in its level.

After r failures the bound at the one-sided level Phi(z) is the Phi(z) quantile of a gamma variable
of shape r + 1 (Garwood 1936). Its log is smooth in z, so that a bound asked at hundreds of levels
is read from a Chebyshev series through `NODES` of them, to some 1e-14 of its log (measured against
the quantiles themselves for 0 to 10 million failures, at levels up to 0.99999, by
``tests/unit/test_open_rates.py``).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fleetstats.bands.likelihood.power import nodes_of, series_at, series_matrix
from fleetstats.core.value import Array

NODES = 16
"""Levels that the series of a row goes through; of no more, each is sought by itself."""


def bound_of_mean(r: Array, z: Array) -> Array:
    """Return upper bounds of Poisson means after `r` failures at deviates `z`, of one shape."""
    from scipy.special import gammaincinv, ndtr

    return np.asarray(gammaincinv(r + 1.0, ndtr(z)))


def log_bounds(r: Array, most: Array, counts: Array, z: Array) -> Array:
    """Return logs of upper bounds of Poisson means, row after row.

    Parameters
    ----------
    r : (K,) float
        Failures of each row.
    most : (K,) float
        Greatest deviate that a row is asked at.
    counts : (K,) int
        How many deviates of `z` are a row's.
    z : (P,) float
        Deviates, 0 to `most`, row after row.

    Returns
    -------
    (P,) float
    """
    row = np.repeat(np.arange(len(r)), counts)
    many = (counts > NODES) & (most > 0.0)
    if not many.any():
        return np.log(bound_of_mean(r[row], z))
    # which deviates a series goes through must not hang on the rows beside it
    coef = np.frombuffer(_series(r.tobytes(), most.tobytes())).reshape(len(r), NODES)
    out = np.empty(len(z))
    by_series = many[row]
    x = np.minimum(2.0 * z[by_series] / most[row[by_series]] - 1.0, 1.0)
    out[by_series] = series_at(coef[row[by_series]], x)[0]
    alone = ~by_series
    out[alone] = np.log(bound_of_mean(r[row[alone]], z[alone]))
    return out


def log_bounds_at(r: Array, most: Array, which: Array, z: Array) -> Array:
    """Return logs of upper bounds of Poisson means, all by series.

    Parameters
    ----------
    r, most : (U,) float
        As in `log_bounds`.
    which : (P,) int
        Which of these each of `z` is of.
    z : (P,) float
        Deviates, 0 to `most`.

    Returns
    -------
    (P,) float
    """
    each = np.frombuffer(_series(r.tobytes(), most.tobytes())).reshape(len(r), NODES)
    # each coefficient of all of them lies together, as the series asks for it
    coef = np.take(each.T, which, axis=1).T
    # at even odds the only level is 0, and a series through it is flat
    full = np.where(most > 0.0, most, 1.0)[which]
    return series_at(coef, np.minimum(2.0 * z / full - 1.0, 1.0))[0]


@lru_cache(maxsize=64)
def _series(r: bytes, most: bytes) -> bytes:
    """Return the bytes of (K, NODES) coefficients of each row's series, from those of (K,) each.

    Fleets that differ by a life or two have the same numbers of failures.
    """
    nodes = nodes_of(NODES, 0.0, 1.0)
    failures, deviate = np.frombuffer(r), np.frombuffer(most)
    values = np.log(bound_of_mean(failures[:, None], deviate[:, None] * nodes[None, :]))
    return np.asarray(values @ series_matrix(NODES).T).tobytes()
