"""Likelihood of the families that shift and stretch: lognormal, log-logistic, extreme value.

With y the log of hours (or hours themselves, for the smallest extreme value) and z = level +
shape y, location is -level / shape and scale is 1 / shape. All is said through the cumulative
hazard H(z) of the standard form, so that interval-known failures and delayed entry need nothing
more: exact failures give log H'(z), time survived gives -(H(end) - H(entry)), and an interval gives
log(1 - exp(-(H(upper) - H(lower)))) (Lawless 2003, section 2.2 to 2.4 and chapter 5).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells import Spells

CHUNK = 8_192
LARGEST = 1e150
"""Cap on standard cumulative hazards, so that products stay finite while the climb backs off."""

Standard = Callable[[Array], tuple[Array, Array, Array, Array, Array, Array]]
"""z to H, H', H'', log H', (log H')', (log H')''."""


def normal(z: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Return the standard normal's cumulative hazard, hazard and derivatives."""
    from scipy.special import log_ndtr

    z = np.minimum(z, 1e7)
    total = -log_ndtr(-z)
    log_h = -0.5 * z * z - 0.5 * math.log(2.0 * math.pi) + total
    h = np.exp(log_h)
    # h - z cancels far in the tail, where it tends to 1/z.
    rest = np.where(z > 1e4, 1.0 / np.maximum(z, 1.0), h - z)
    h1 = h * rest
    return total, h, h1, log_h, rest, h1 - 1.0


def logistic(z: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Return the standard logistic's cumulative hazard, hazard and derivatives."""
    total = np.logaddexp(0.0, z)
    log_h = -np.logaddexp(0.0, -z)
    h = np.exp(log_h)
    h1 = np.exp(log_h - total)
    return total, h, h1, log_h, np.exp(-total), -h1


def extreme(z: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Return the standard smallest extreme value's cumulative hazard, hazard and derivatives."""
    h = np.exp(np.minimum(z, 340.0))
    return h, h, h, z, np.ones_like(z), np.zeros_like(z)


@dataclass(frozen=True, slots=True)
class Rows:
    """Spells as y values relative to a reference, by kind of knowledge.

    Minus infinity stands for age 0. `jacobian` is the sum of w log(dt/dy) over exact failures, less
    that of log widths of intervals made exact.
    """

    begin: Array
    stop: Array
    weight: Array
    exact: Array
    exact_weight: Array
    lower: Array
    upper: Array
    found_weight: Array
    reference: float
    unit: float
    jacobian: float

    @property
    def n_failed(self) -> float:
        """Return the weighted number of failures."""
        return float(self.exact_weight.sum() + self.found_weight.sum())


NARROW = 1e-6
"""Relative width below which an interval counts as its middle: differences of the cumulative hazard
would cancel, while the density at the middle times the width is right to its square."""


def narrow_to_exact(spells: Spells) -> tuple[Spells, float]:
    """Make very narrow intervals exact; return also the sum of w log(width in hours)."""
    narrow = spells.interval_known & (
        spells.exit_upper - spells.exit_lower < NARROW * spells.exit_upper
    )
    if not narrow.any():
        return spells, 0.0
    middle = 0.5 * (spells.exit_lower + spells.exit_upper)
    width = (spells.exit_upper - spells.exit_lower)[narrow]
    out = spells.replace(
        exit_lower=np.where(narrow, middle, spells.exit_lower),
        exit_upper=np.where(narrow, middle, spells.exit_upper),
    )
    return out, float(spells.weight[narrow] @ np.log(width))


def prepare_rows(spells: Spells, *, log: bool) -> Rows:
    """Sort the rows by what they tell; y is log hours, or hours in units of the oldest age.

    A life followed from new is not conditioned on anything, also where the family gives ages
    below 0 some probability.
    """
    spells, log_width = narrow_to_exact(spells)
    unit = 1.0 if log else spells.oldest_h

    def y_of(hours: Array) -> Array:
        with np.errstate(divide="ignore"):
            return np.where(hours > 0.0, np.log(hours) if log else hours / unit, -np.inf)

    w, failed = spells.weight, spells.failed
    between = spells.interval_known
    exact = failed & ~between
    y_exact = y_of(spells.exit_upper[exact])
    y_middle = y_of(0.5 * (spells.exit_lower + spells.exit_upper)[between])
    n = float(w[failed].sum())
    where = float(w[exact] @ y_exact + w[between] @ y_middle)
    reference = where / n if n > 0.0 else 0.0
    survived = spells.exit_lower > spells.entry
    log_hours = np.log(spells.exit_upper[exact]) if log else math.log(unit)
    jacobian = float((w[exact] * log_hours).sum())
    return Rows(
        begin=y_of(spells.entry[survived]) - reference,
        stop=y_of(spells.exit_lower[survived]) - reference,
        weight=w[survived],
        exact=y_exact - reference,
        exact_weight=w[exact],
        lower=y_of(spells.exit_lower[between]) - reference,
        upper=y_of(spells.exit_upper[between]) - reference,
        found_weight=w[between],
        reference=reference,
        unit=unit,
        jacobian=jacobian - log_width,
    )


def _cumulative(standard: Standard, y: Array, shape: float, level: float) -> list[Array]:
    """Return y and H, H', H'' there, all 0 where y is minus infinity."""
    some = np.isfinite(y)
    at = np.where(some, y, 0.0)
    h0, h1, h2, *_ = standard(level + shape * at)
    out = [np.where(some, np.minimum(x, LARGEST), 0.0) for x in (h0, h1, h2)]
    return [at, *out]


def _moments(columns: list[Array]) -> list[Array]:
    """Return H and its derivatives in (shape, level): s, l, ss, sl, ll."""
    y, h0, h1, h2 = columns
    return [h0, y * h1, h1, y * y * h2, y * h2, h2]


def evaluate_rows(
    rows: Rows, standard: Standard, shape: float, level: float
) -> tuple[float, Array, Array]:
    """Return log likelihood, gradient (2,) and Hessian (2, 2) in (shape, level)."""
    r = float(rows.exact_weight.sum())
    value = r * math.log(shape) - rows.jacobian
    grad = np.array([r / shape, 0.0])
    hess = np.array([[-r / shape**2, 0.0], [0.0, 0.0]])
    with np.errstate(over="ignore", invalid="ignore", divide="ignore", under="ignore"):
        for i in range(0, len(rows.exact), CHUNK):
            y, w = rows.exact[i : i + CHUNK], rows.exact_weight[i : i + CHUNK]
            *_, log_h, g1, g2 = standard(level + shape * y)
            value += float(w @ log_h)
            grad += (w @ (y * g1), w @ g1)
            cross = float(w @ (y * g2))
            hess += ((float(w @ (y * y * g2)), cross), (cross, float(w @ g2)))
        for i in range(0, len(rows.stop), CHUNK):
            w = rows.weight[i : i + CHUNK]
            end = _moments(_cumulative(standard, rows.stop[i : i + CHUNK], shape, level))
            start = _moments(_cumulative(standard, rows.begin[i : i + CHUNK], shape, level))
            v, s, e, ss, se, ee = (float(w @ (a - b)) for a, b in zip(end, start, strict=True))
            value -= v
            grad -= (s, e)
            hess -= ((ss, se), (se, ee))
        for i in range(0, len(rows.upper), CHUNK):
            w = rows.found_weight[i : i + CHUNK]
            end = _moments(_cumulative(standard, rows.upper[i : i + CHUNK], shape, level))
            start = _moments(_cumulative(standard, rows.lower[i : i + CHUNK], shape, level))
            d, s1, e1, s2, x2, e2 = (a - b for a, b in zip(end, start, strict=True))
            odds = 1.0 / np.expm1(d)
            back = odds * (1.0 + odds)
            value += float(w @ np.where(d > 0.69, np.log1p(-np.exp(-d)), np.log(-np.expm1(-d))))
            grad += (w @ (odds * s1), w @ (odds * e1))
            cross = float(w @ (odds * x2 - back * s1 * e1))
            hess += (
                (float(w @ (odds * s2 - back * s1 * s1)), cross),
                (cross, float(w @ (odds * e2 - back * e1 * e1))),
            )
    return float(value), grad, hess
