"""The power sums that carry everything exact spells say about a Weibull.

With entry e, exit t, failed d and weight w, the log-likelihood given shape b and rate c (the
cumulative hazard at a reference age; ages below in units of that age) is

    r log c + r log b + (b - 1) * sum(w d log t) - c * A(b),    A(b) = sum(w (t^b - e^b)),

so r = sum(w d), the sum of logs and the one function A are all that is needed (Lawless 2003,
section 4.1, with left truncation). log A is smooth in log b; it is held as a Chebyshev series,
checked against direct sums, for one fleet or for many fleets at once.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

LOW_SHAPE, HIGH_SHAPE = 0.05, 60.0
"""Shapes between which bands look; no life of a machine is described by one outside."""

SERIES_ERROR = 1e-10
"""Accepted error of log A between the nodes."""

FIRST_NODES, MOST_NODES = 48, 384
"""Nodes that a series begins with, and those at which it ends whatever its error."""

CHUNK = 4_000_000
"""Powers formed at a time, to bound memory at 32 MB a term."""

AT_ONCE = 5_000
"""Powers up to which several shapes are taken at once: what a processor keeps at hand."""

REMEMBERED, REMEMBERED_FEW = 60_000, 1_300_000
"""Values of a table of polynomials that is kept, half a megabyte, and ten; at most 64 and 6 are."""

MOST_TABLED = REMEMBERED_FEW
"""Values of a table of polynomials that is made for one fleet at all; past it the series is summed
term by term, which of 30,000 shapes takes a seventieth of the time."""


def nodes_of(count: int, low: float, high: float) -> Array:
    """Return `count` Chebyshev nodes (of the first kind) in ``(low, high)``."""
    x = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return np.asarray(0.5 * (low + high) + 0.5 * (high - low) * x)


@lru_cache(maxsize=16)
def series_matrix(count: int) -> Array:
    """Return (count, count) D with ``values @ D.T`` the Chebyshev coefficients of node values."""
    k = np.arange(count)[:, None]
    j = np.arange(count)[None, :]
    d = 2.0 / count * np.cos(np.pi * k * (j + 0.5) / count)
    d[0] *= 0.5
    d.flags.writeable = False
    return np.asarray(d)


def _polynomials_of(count: int, x: bytes) -> Array:
    """Return (count, G) Chebyshev polynomials at G points in [-1, 1], told by their bytes."""
    at = np.arccos(np.frombuffer(x))
    out = np.cos(np.arange(count)[:, None] * at[None, :])
    out.flags.writeable = False
    return np.asarray(out)


_polynomials = lru_cache(maxsize=64)(_polynomials_of)
"""The same: fleets that differ by a life or two are asked at the same shapes again and again."""

_few_polynomials = lru_cache(maxsize=6)(_polynomials_of)
"""The same of large tables: in a study of 5,000 lives 180 of 188 had been made before."""


def _kept_polynomials(count: int, x: bytes) -> Array:
    """Return what `_polynomials_of` does, from the tables that are kept where they are small."""
    size = count * len(x) // 8
    if size > REMEMBERED_FEW:
        return _polynomials_of(count, x)
    return _polynomials(count, x) if size <= REMEMBERED else _few_polynomials(count, x)


def series_at(coef: Array, x: Array, *, derivatives: int = 0) -> tuple[Array, ...]:
    """Return a Chebyshev series and its derivatives in x at each row's own points.

    Parameters
    ----------
    coef : (F, K) float
        Coefficients.
    x : (F, ...) float in [-1, 1]
        Points.
    derivatives : int
        0, 1 or 2.
    """
    shape = (coef.shape[0],) + (1,) * (x.ndim - 1)
    b1 = np.zeros_like(x)
    b2 = np.zeros_like(x)
    # Clenshaw's recurrence, differentiated term by term
    if not derivatives:
        twice, now = 2 * x, np.empty_like(x)
        for k in range(coef.shape[1] - 1, 0, -1):
            np.multiply(twice, b1, out=now)
            now -= b2
            now += coef[:, k].reshape(shape)
            b1, b2, now = now, b1, b2
        return (np.asarray(x * b1 - b2 + coef[:, 0].reshape(shape)),)
    d1 = np.zeros_like(x)
    d2 = np.zeros_like(x)
    s1 = np.zeros_like(x)
    s2 = np.zeros_like(x)
    for k in range(coef.shape[1] - 1, 0, -1):
        if derivatives > 1:
            s1, s2 = 2 * x * s1 - s2 + 4 * d1, s1
        d1, d2 = 2 * x * d1 - d2 + 2 * b1, d1
        b1, b2 = 2 * x * b1 - b2 + coef[:, k].reshape(shape), b1
    out = [x * b1 - b2 + coef[:, 0].reshape(shape), x * d1 - d2 + b1]
    if derivatives > 1:
        out.append(x * s1 - s2 + 2 * d1)
    return tuple(np.asarray(v) for v in out)


def power_sum(log_shape: Array, log_entry: Array, log_exit: Array, weight: Array) -> Array:
    """Return A at each log shape by direct sums in chunks.

    Parameters
    ----------
    log_shape : (G,) float
        Where.
    log_entry, log_exit : (F, n) float
        Logs of ages over the reference age; ``-inf`` for an entry at 0.
    weight : (F, n) or (1, n) float
        How many lives a row stands for.

    Returns
    -------
    (F, G) float
    """
    shape = np.exp(log_shape)
    f, n = log_exit.shape
    out = np.empty((f, len(shape)))
    late = np.isfinite(log_entry)
    step = max(1, CHUNK // max(n, 1))
    with np.errstate(under="ignore"):
        for i in range(0, f, step):
            part = slice(i, i + step)
            own = weight[part] if len(weight) > 1 else weight
            ends = log_exit[part]
            cut = np.flatnonzero(late[part].any(axis=0))
            run = log_entry[part][:, cut] - ends[:, cut]
            # shapes one by one are mostly calls where rows are few, all at once mostly memory
            few = max(1, AT_ONCE // max(ends.size, 1))
            for j in range(0, len(shape), few):
                b = shape[None, j : j + few, None]
                terms = np.exp(b * ends[:, None, :])
                # t^b - e^b from its own difference, so that a short spell keeps its digits
                terms[:, :, cut] *= -np.expm1(b * run[:, None, :])
                terms *= own[:, None, :]
                out[part, j : j + few] = terms.sum(axis=2)
    return out


def series_of(
    sums: Callable[[Array], Array], low: float, high: float, count: int | None = None
) -> Array:
    """Return (F, K) Chebyshev coefficients of log A over log shapes `low` to `high`.

    Parameters
    ----------
    sums : callable
        Gives A (F, G) at log shapes (G,) by direct sums.
    low, high : float
        Range of log shape.
    count : int, optional
        Fixes the number of nodes; otherwise it doubles from `FIRST_NODES` until the series agrees
        with direct sums to `SERIES_ERROR`, or there are `MOST_NODES`.
    """
    k = FIRST_NODES if count is None else count
    while True:
        coef = np.log(sums(nodes_of(k, low, high))) @ series_matrix(k).T
        if count is not None or k >= MOST_NODES:
            return np.asarray(coef)
        between = nodes_of(7, low, high) + 0.01
        x = np.clip((2 * between - low - high) / (high - low), -1.0, 1.0)
        read = coef @ _kept_polynomials(k, x.tobytes())
        if np.abs(np.log(sums(between)) - read).max() < SERIES_ERROR:
            return np.asarray(coef)
        k *= 2


@value
class PowerSums(Value):
    """Power sums of F fleets, with log A as a series in log shape.

    Parameters
    ----------
    reference_h : float
        Age in hours that has the value 1.
    n_failed, sum_log : (F,) float
        Weighted failures, and weighted sum of logs of their ages over the reference.
    low, high : float
        Log shapes between which the series holds.
    coef : (F, K) float
        Chebyshev coefficients of log A over that range.
    """

    reference_h: float
    n_failed: Array
    sum_log: Array
    low: float
    high: float
    coef: Array

    @classmethod
    def of_arrays(
        cls,
        entry: Array,
        exit: Array,
        failed: Array,
        weight: Array | None = None,
        *,
        reference_h: float | None = None,
        low_shape: float = LOW_SHAPE,
        high_shape: float = HIGH_SHAPE,
        count: int | None = None,
        sums: Callable[[Array], Array] | None = None,
    ) -> PowerSums:
        """Sum exact and right-censored spells with delayed entry; arrays are (n,) or (F, n).

        `count` as in `series_of`; `sums` gives A (F, G) at log shapes (G,) where that is known.
        """
        e, t, d = (np.atleast_2d(np.asarray(v, dtype=np.float64)) for v in (entry, exit, failed))
        w = np.ones((1, t.shape[1])) if weight is None else np.atleast_2d(np.asarray(weight))
        ref = float(t.max()) if reference_h is None else reference_h
        with np.errstate(divide="ignore"):
            log_e, log_t = np.log(e / ref), np.log(t / ref)
        low, high = float(np.log(low_shape)), float(np.log(high_shape))
        wd = w * d
        by_sums = sums or (lambda theta: power_sum(theta, log_e, log_t, w))
        return cls(
            reference_h=ref,
            n_failed=wd.sum(axis=1),
            sum_log=(wd * log_t).sum(axis=1),
            low=low,
            high=high,
            coef=series_of(by_sums, low, high, count),
        )

    @classmethod
    def of_spells(cls, spells: Spells, **options: float) -> PowerSums:
        """Sum the spells of one fleet.

        Raises
        ------
        BandError
            If a failure is only known to lie in an interval: A alone does not carry those.
        """
        if bool(spells.interval_known.any()):
            raise BandError(
                "Power sums cannot hold failures that are only known to lie in an interval.",
                "Use the surface of the likelihood instead.",
            )
        e, t, d, w = spells.entry, spells.exit_upper, spells.failed, spells.weight
        return cls.of_arrays(e, t, d, w, **options)  # type: ignore[arg-type]

    @classmethod
    def of_simulated(
        cls,
        entry: Array,
        stop: Array,
        ends: Array,
        failed: Array,
        *,
        reference_h: float,
        low_shape: float,
        high_shape: float,
        count: int,
    ) -> PowerSums:
        """Sum F fleets that share entries and stops (n,) and differ in what failed, (F, n).

        Only failed lives change A, so the common sum is formed once and each failure takes off
        ``stop^b - end^b``: with few failures that is a small part of the work.
        """
        low, high = float(np.log(low_shape)), float(np.log(high_shape))
        nodes = nodes_of(count, low, high)
        with np.errstate(divide="ignore"):
            log_e, log_s = np.log(entry / reference_h), np.log(stop / reference_h)
        whole = power_sum(nodes, log_e[None, :], log_s[None, :], np.ones((1, 1)))[0]
        fleet, life = np.nonzero(failed)
        log_t = np.log(ends[fleet, life] / reference_h)
        size = len(ends)
        values = np.empty((size, count))
        with np.errstate(under="ignore"):
            for k, b in enumerate(np.exp(nodes)):
                lost = np.exp(b * log_s[life]) * -np.expm1(b * (log_t - log_s[life]))
                values[:, k] = whole[k] - np.bincount(fleet, weights=lost, minlength=size)
        # where failures take most of the sum off, what is left has lost its digits
        spent = np.flatnonzero((values < 0.2 * whole).any(axis=1))
        if len(spent):
            log_ends = np.log(ends[spent] / reference_h)
            start = np.broadcast_to(log_e, log_ends.shape)
            values[spent] = power_sum(nodes, start, log_ends, np.ones((1, 1)))
        return cls(
            reference_h=reference_h,
            n_failed=np.bincount(fleet, minlength=size).astype(np.float64),
            sum_log=np.bincount(fleet, weights=log_t, minlength=size),
            low=low,
            high=high,
            coef=np.log(values) @ series_matrix(count).T,
        )

    def take(self, fleets: slice) -> PowerSums:
        """Return the sums of some of the fleets."""
        return PowerSums(
            reference_h=self.reference_h,
            n_failed=self.n_failed[fleets],
            sum_log=self.sum_log[fleets],
            low=self.low,
            high=self.high,
            coef=self.coef[fleets],
        )

    def __len__(self) -> int:
        return len(self.n_failed)

    def _x(self, log_shape: Array) -> Array:
        return np.asarray((2 * log_shape - self.low - self.high) / (self.high - self.low))

    def log_power(self, log_shape: Array) -> Array:
        """Return log A at (G,) shared log shapes as (F, G)."""
        x = np.clip(self._x(log_shape), -1.0, 1.0)
        if len(self.coef) == 1 and self.coef.shape[1] * len(x) > MOST_TABLED:
            return series_at(self.coef, x[None, :])[0]
        return np.asarray(self.coef @ _kept_polynomials(self.coef.shape[1], x.tobytes()))

    def log_power_among(self, log_shape: Array) -> Array:
        """Return log A of the first fleet at (G,) of very many log shapes, each by itself.

        The same to the last digit whatever other shapes are asked beside it.
        """
        x = np.clip(self._x(log_shape), -1.0, 1.0)[None, :]
        return np.asarray(series_at(self.coef[:1], x)[0][0])

    def log_power_each(self, log_shape: Array, *, derivatives: int = 0) -> tuple[Array, ...]:
        """Return log A and its derivatives in log shape at (F, ...) points, own to each fleet."""
        out = series_at(self.coef, np.clip(self._x(log_shape), -1.0, 1.0), derivatives=derivatives)
        scale = 2.0 / (self.high - self.low)
        return tuple(v * scale**i for i, v in enumerate(out))

    def profile(self, log_shape: Array) -> Array:
        """Return (F, G) log-likelihood maximised over the rate, less constants of the data.

        ``r log b + b * sum_log - r log A(b)``: the rate at the maximum is r / A.
        """
        r, s = self.n_failed[:, None], self.sum_log[:, None]
        return np.asarray(r * log_shape + s * np.exp(log_shape) - r * self.log_power(log_shape))
