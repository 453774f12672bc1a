"""Likelihood of lives under checks, for the delay-time model.

For one life, fault-free at its start, with onset density g(u) and delay H, and with m(u, t) checks
made between u and t that missed the fault:

- failed at t: integral of ``g(u) h(t - u) (1 - r)**m`` over u in (start, t);
- found at the check at t: ``r`` times the integral of ``g(u) S_H(t - u) (1 - r)**m``, the last
  check not counted in m;
- nothing seen up to t: ``S_g(t)`` plus the integral of ``g(u) S_H(t - u) (1 - r)**m``;

each divided by the chance of nothing seen up to entry. Where a share v of faults gives no warning,
they fail as they arise: the integrals carry 1 - v, and a life that failed at t gains ``v g(t)``.
The integrals are Gauss-Legendre sums between checks, on ages fixed beforehand, so all parameters
act on the same arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, CheckLives

NODES = 8
"""Gauss-Legendre nodes between two checks."""
LAST_NODES, CROWDED = 12, 4
"""Nodes from the last check to the end of a life, and the power by which they crowd towards it.
With 8 even ones there the density of each failure lost up to 12 % under a Weibull shape of 0.5, and
such shapes were hardly ever found. The log of a sum is right to 2e-5 for shapes from 0.5 to 2.2
(tested), and to 2e-3 for the steepest with checks ten times as far apart as the mean delay."""
NEGLIGIBLE = 1e-10
"""Chance of being missed so often below which an onset is left out of the integrals."""


@dataclass(frozen=True, slots=True)
class Terms:
    """Fixed ages at which the integrals are summed. One owner to a life."""

    u: Array  # (k,) age of onset
    gap: Array  # (k,) hours from onset to the end of the term
    missed: Array  # (k,) checks between that did not find it
    weight: Array  # (k,) quadrature weight in hours
    owner: Array  # (k,) life, rising
    first: Array  # (n,) where each life's ages begin
    end: Array  # (n,) hours at which each life's term ends
    start: Array  # (n,) hours at which each life was free of faults
    log_u: Array  # (k,) log of onset age over the horizon
    log_end: Array  # (n,) the same of the ends, and
    log_start: Array  # (n,) of the starts; minus infinity at 0
    n: int


@dataclass(frozen=True, slots=True)
class Prepared:
    """Lives turned into terms: one set for the endings, one for the lives with delayed entry."""

    lives: CheckLives
    ends: Terms
    entries: Terms
    failing: Array  # places among the ages of `ends` that belong to lives that failed
    horizon_h: float


def prepare_delay(lives: CheckLives, *, detection_low: float) -> Prepared:
    """Lay out the integration ages; `detection_low` bounds how often a fault can be missed."""
    late = np.flatnonzero(lives.entry_h > lives.start_h)
    most = (
        1
        if detection_low >= 1.0
        else 1 + math.ceil(math.log(NEGLIGIBLE) / math.log1p(-detection_low))
    )
    ends = _terms(lives, np.arange(len(lives)), lives.exit_h, most, at_entry=False)
    return Prepared(
        lives=lives,
        ends=ends,
        entries=_terms(lives, late, lives.entry_h, most, at_entry=True),
        failing=np.flatnonzero(lives.ending[ends.owner] == FAILED),
        horizon_h=lives.oldest_h,
    )


def _terms(lives: CheckLives, rows: Array, end: Array, most: int, *, at_entry: bool) -> Terms:
    x, w = np.polynomial.legendre.leggauss(NODES)
    y, w_last = np.polynomial.legendre.leggauss(LAST_NODES)
    y, w_last = 0.5 * (1.0 + y), 0.5 * w_last
    u, missed, weight, owner = [], [], [], []
    for j, i in enumerate(rows):
        t = float(end[i])
        checks = lives.checks(int(i))
        to_the_end = at_entry or lives.ending[i] == CLEAN
        checks = checks[checks <= t] if to_the_end else checks[checks < t]
        edges = np.unique(np.concatenate([[lives.start_h[i]], checks, [t]]))
        low, high = edges[:-1], edges[1:]
        # Checks at or after the end of a piece: all of them missed an onset within it.
        m = len(checks) - np.searchsorted(checks, high, side="left")
        keep = m <= most
        low, high, m = low[keep], high[keep], m[keep]
        half = 0.5 * (high[:-1] - low[:-1])
        # In the last piece the delay runs from 0, where a Weibull's density may have no bound:
        # gap = length * y ** CROWDED makes the integrand smooth in y.
        length = high[-1] - low[-1]
        u += [(0.5 * (high + low)[:-1, None] + half[:, None] * x).ravel(), t - length * y**CROWDED]
        weight += [(half[:, None] * w).ravel(), length * CROWDED * y ** (CROWDED - 1) * w_last]
        nodes = np.append(np.full(len(m) - 1, NODES), LAST_NODES)
        missed.append(np.repeat(m, nodes))
        owner.append(np.full(int(nodes.sum()), j))
    if not u:
        e = np.zeros(0)
        i = e.astype(int)
        return Terms(e, e, i, e, i, i, e, e, e, e, e, 0)
    uu, oo = np.concatenate(u), np.concatenate(owner)
    horizon = lives.oldest_h
    ends = np.asarray(end[rows], dtype=np.float64)
    starts = np.asarray(lives.start_h[rows], dtype=np.float64)
    with np.errstate(divide="ignore"):
        log_start = np.log(starts / horizon)
    return Terms(
        u=uu,
        gap=ends[oo] - uu,
        missed=np.concatenate(missed),
        weight=np.concatenate(weight),
        owner=oo,
        first=np.searchsorted(oo, np.arange(len(rows))),
        end=ends,
        start=starts,
        log_u=np.log(uu / horizon),
        log_end=np.log(ends / horizon),
        log_start=log_start,
        n=len(rows),
    )


@dataclass(frozen=True, slots=True)
class DelayPart:
    """What depends on the delay and on detection only, for one choice of both.

    `factor` and `entry_factor` multiply the onset density at each integration age, `at_end` (n,)
    that at the end of each life: faults without warning.
    """

    factor: Array
    entry_factor: Array
    at_end: Array
    log_constant: float


def delay_part(
    pre: Prepared, mean_h: float, shape: float, detection: float, no_warning: float = 0.0
) -> DelayPart:
    """Evaluate the delay's density or survival at every integration age."""
    lives, t, at = pre.lives, pre.ends, pre.failing
    if math.isinf(mean_h):
        lasting = np.ones_like(t.gap)
        lasting[at] = 0.0
        entry = np.ones_like(pre.entries.gap)
    else:
        scale = mean_h / math.gamma(1.0 + 1.0 / shape)
        z = (t.gap / scale) ** shape
        lasting = np.exp(-z)
        # of a life that failed the density, of others the survival
        lasting[at] = lasting[at] * shape * z[at] / t.gap[at]
        entry = np.exp(-((pre.entries.gap / scale) ** shape))
    entry = pre.entries.weight * _all_missed(detection, pre.entries.missed) * entry
    return DelayPart(
        factor=(1.0 - no_warning) * t.weight * _all_missed(detection, t.missed) * lasting,
        entry_factor=(1.0 - no_warning) * entry,
        at_end=no_warning * (lives.ending == FAILED),
        log_constant=float((lives.ending == FOUND).sum()) * math.log(detection),
    )


def _all_missed(detection: float, checks: Array) -> Array:
    """Return the chance that each number of checks finds nothing: a few numbers, many times."""
    most = int(checks.max(initial=0))
    return np.asarray(np.power(1.0 - detection, np.arange(most + 1))[checks])


def log_likelihood(
    pre: Prepared, part: DelayPart, log_faults: float, log_shape: float
) -> tuple[float, Array]:
    """Log-likelihood, and its slope in log expected faults to the horizon and log arrival shape.

    Returns minus infinity with zero slopes where a term has no probability at all.
    """
    lives = pre.lives
    top, d_top = _sum(pre.ends, part.factor, log_faults, log_shape)
    if part.at_end.any():
        now, d_now = at_end_of(pre.ends, log_faults, log_shape)
        top, d_top = top + part.at_end * now, d_top + part.at_end * d_now
    clean = lives.ending == CLEAN
    stay, d_stay = stay_of(pre.ends, log_faults, log_shape)
    top = top + np.where(clean, stay, 0.0)
    d_top = d_top + np.where(clean, d_stay, 0.0)
    if not np.all(top > 0.0):
        return -math.inf, np.zeros(2)
    value = float(np.log(top).sum()) + part.log_constant
    slope = (d_top / top).sum(axis=1)
    if pre.entries.n:
        low, d_low = _sum(pre.entries, part.entry_factor, log_faults, log_shape)
        stay, d_stay = stay_of(pre.entries, log_faults, log_shape)
        low, d_low = low + stay, d_low + d_stay
        value -= float(np.log(low).sum())
        slope = slope - (d_low / low).sum(axis=1)
    return value, np.asarray(slope)


def _cumulative(log_t: Array, log_faults: float, log_shape: float) -> tuple[Array, Array]:
    """Cumulative faults to log ages over the horizon, and the derivative in log shape."""
    shape = math.exp(log_shape)
    c = np.exp(log_faults + shape * log_t)
    return c, c * shape * np.maximum(log_t, -1e3)


def stay_of(terms: Terms, log_faults: float, log_shape: float) -> tuple[Array, Array]:
    """Chance of no fault from start to end, with its two derivatives (2, n)."""
    a, da = _cumulative(terms.log_start, log_faults, log_shape)
    b, db = _cumulative(terms.log_end, log_faults, log_shape)
    s = np.exp(-(b - a))
    return s, np.stack([-(b - a) * s, -(db - da) * s])


def at_end_of(terms: Terms, log_faults: float, log_shape: float) -> tuple[Array, Array]:
    """Density of faults at the end of each life, with its two derivatives (2, n)."""
    shape = math.exp(log_shape)
    a, da = _cumulative(terms.log_start, log_faults, log_shape)
    b, db = _cumulative(terms.log_end, log_faults, log_shape)
    g = b * shape / terms.end * np.exp(-(b - a))
    slope = 1.0 + shape * terms.log_end - (db - da)
    return g, np.stack([g * (1.0 - (b - a)), g * slope])


def onset_density(terms: Terms, log_faults: float, log_shape: float) -> Array:
    """Return the density (k,) of faults at every integration age, the life free of them before."""
    c, _ = _cumulative(terms.log_u, log_faults, log_shape)
    c0, _ = _cumulative(terms.log_start, log_faults, log_shape)
    return np.asarray(c * math.exp(log_shape) / terms.u * np.exp(c0[terms.owner] - c))


def _sum(terms: Terms, factor: Array, log_faults: float, log_shape: float) -> tuple[Array, Array]:
    """Integral of the onset density times `factor` for each life, with derivatives (2, n)."""
    shape = math.exp(log_shape)
    c, dc = _cumulative(terms.log_u, log_faults, log_shape)
    c0, dc0 = _cumulative(terms.log_start, log_faults, log_shape)
    grown = c - c0[terms.owner]
    g = c * shape / terms.u * np.exp(-grown) * factor
    d_log_shape = 1.0 + shape * terms.log_u - (dc - dc0[terms.owner])

    parts = np.stack([g, g * (1.0 - grown), g * d_log_shape])
    out = np.add.reduceat(parts, terms.first, axis=1)
    return out[0], out[1:]
