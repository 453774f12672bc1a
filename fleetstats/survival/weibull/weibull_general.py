"""The Weibull likelihood with every kind of knowledge: exact, running, found at check, late entry.

Parameters are shape and `level`, the log cumulative hazard at a reference age amid the failures, so
that z = level + shape (y - y_ref) is the log cumulative hazard at log age y. Without delayed entry
the log likelihood is concave in these two (Burridge 1981); with it a damped Newton step with a line
search still climbs (`survival/ascent.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import NoMaximum
from fleetstats.core.value import Array

CHUNK = 8_192


@dataclass(frozen=True, slots=True)
class Lives:
    """Log ages for the likelihood, from `prepare_lives`.

    `stop`, `span`, `weight` are of the time surely survived: log age at its end, log ratio of end
    to entry (infinite from new). `found`, `gap`, `found_weight` are of the intervals that hold a
    failure. All log ages are relative to the reference age.
    """

    stop: Array
    span: Array
    weight: Array
    found: Array
    gap: Array
    found_weight: Array
    exact_weight: float
    exact_sum: float
    exact_log_hours: float
    reference_h: float

    @property
    def n_failed(self) -> float:
        """Return the weighted number of failures."""
        return self.exact_weight + float(self.found_weight.sum())


def log_ratio(top: Array, bottom: Array) -> Array:
    """Return log(top / bottom) without loss when they are close; infinite where bottom is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        near = bottom > 0.5 * top
        return np.where(near, np.log1p((top - bottom) / bottom), np.log(top) - np.log(bottom))


def prepare_lives(entry: Array, lower: Array, upper: Array, failed: Array, weight: Array) -> Lives:
    """Sort the rows by what they tell; hours as in `Spells`, rows of weight 0 left out."""
    keep = weight > 0.0
    if not keep.all():
        entry, lower, upper, failed, weight = (
            x[keep] for x in (entry, lower, upper, failed, weight)
        )
    interval = failed & (lower < upper)
    exact = failed & ~interval
    w_exact = weight[exact]
    log_exact = np.log(upper[exact])
    middle = np.log(0.5 * (lower[interval] + upper[interval]))
    n = float(weight[failed].sum())
    where = float((w_exact * log_exact).sum() + (weight[interval] * middle).sum())
    reference = where / n if n > 0.0 else 0.0
    survived = lower > entry
    return Lives(
        stop=np.log(lower[survived]) - reference,
        span=log_ratio(lower[survived], entry[survived]),
        weight=weight[survived],
        found=np.log(upper[interval]) - reference,
        gap=log_ratio(upper[interval], lower[interval]),
        found_weight=weight[interval],
        exact_weight=float(w_exact.sum()),
        exact_sum=float((w_exact * (log_exact - reference)).sum()),
        exact_log_hours=float((w_exact * log_exact).sum()),
        reference_h=math.exp(reference),
    )


def _rise(y: Array, span: Array, shape: float, level: float) -> tuple[Array, Array, Array]:
    """Return the cumulative hazard gained over a span, and its two derivatives in shape."""
    with np.errstate(over="ignore", invalid="ignore"):
        top = np.exp(np.minimum(level + shape * y, 700.0))
        q = np.exp(-shape * span)
        finite = np.where(np.isfinite(span), span, 0.0)
        m0 = top * -np.expm1(-shape * span)
        m1 = y * m0 + finite * q * top
        m2 = y * y * m0 + (2.0 * y - finite) * finite * q * top
    return m0, m1, m2


def evaluate(lives: Lives, shape: float, level: float) -> tuple[float, Array, Array]:
    """Return log likelihood, gradient (2,) and Hessian (2, 2) in (shape, level)."""
    r = lives.exact_weight
    value = r * (math.log(shape) + level) + shape * lives.exact_sum - lives.exact_log_hours
    grad = np.array([r / shape + lives.exact_sum, r])
    hess = np.array([[-r / shape**2, 0.0], [0.0, 0.0]])
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for i in range(0, len(lives.stop), CHUNK):
            cut = slice(i, i + CHUNK)
            w = lives.weight[cut]
            m0, m1, m2 = (
                float(w @ m) for m in _rise(lives.stop[cut], lives.span[cut], shape, level)
            )
            value -= m0
            grad -= (m1, m0)
            hess -= ((m2, m1), (m1, m0))
        for i in range(0, len(lives.found), CHUNK):
            cut = slice(i, i + CHUNK)
            w = lives.found_weight[cut]
            d0, d1, d2 = _rise(lives.found[cut], lives.gap[cut], shape, level)
            odds = 1.0 / np.expm1(d0)
            value += float(w @ log_failed(d0))
            # Ratios first: odds * d0 tends to 1 as the interval shrinks.
            u0, u1, u2 = odds * d0, odds * d1, odds * d2
            grad += (w @ u1, w @ u0)
            back = w * (1.0 + 1.0 / odds)
            back[~np.isfinite(back)] = 0.0
            h12 = w @ u1 - back @ (u0 * u1)
            hess += ((w @ u2 - back @ (u1 * u1), h12), (h12, w @ u0 - back @ (u0 * u0)))
    return float(value), grad, hess


def log_failed(rise: Array) -> Array:
    """Return log(1 - exp(-rise)), accurate at both ends."""
    with np.errstate(divide="ignore"):
        return np.where(rise > 0.69, np.log1p(-np.exp(-rise)), np.log(-np.expm1(-rise)))


def refuse_hopeless(n_failed: float, *, nothing_survived: bool, title: str) -> None:
    """Raise `NoMaximum` when no failure happened, or none was preceded by a sound check."""
    if n_failed == 0.0:
        raise NoMaximum(
            f"No life ended by the failure in question, so no {title} fit exists.",
            "Bounds for assumed shapes can still be given.",
            reason="no-failures",
        )
    if nothing_survived:
        raise NoMaximum(
            "Every life had failed by its first check, so nothing tells how early.",
            "Earlier checks, or lives that passed one, would tell.",
            reason="nothing-survived",
        )


def covariance_at(lives: Lives, shape: float, level: float) -> Array:
    """Return the (2, 2) covariance of (shape, scale_h) from the observed information.

    log scale = log reference - level / shape; at a maximum the change of parameters is exact.
    """
    _, _, hess = evaluate(lives, shape, level)
    cov = np.linalg.inv(-hess)
    scale = lives.reference_h * math.exp(-level / shape)
    change = np.array([[1.0, 0.0], [scale * level / shape**2, -scale / shape]])
    return np.asarray(change @ cov @ change.T)
