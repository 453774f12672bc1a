"""Age replacement: the overhaul age with the least cost per hour, for Weibull lives.

Planned overhaul at age T costs 1, a failure before it costs `ratio`; the long-run cost per hour is

    C(T) = [S(T) + ratio (1 - S(T))] / integral of S from 0 to T

(Barlow & Proschan 1965, Mathematical Theory of Reliability, ch. 4). With z = (T/scale)^shape and
a = 1/shape the integral is scale · a · γ(a, z), γ the lower incomplete gamma function, and the
optimum solves

    g(z) = z^(1-a) γ(a, z) - (1 - exp(-z)) = 1 / (ratio - 1).

g rises without limit for every shape above 1, so there is one optimum; for shape 1 or less there is
none and running to failure costs least. All functions work on arrays and stay exact for any scale:
the scale only multiplies the answer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SettingError
from fleetstats.core.gate import HOURS_ABOVE_0, POSITIVE, POSITIVES_ANY, gate
from fleetstats.core.value import Array, as_asked

FLAT_SHARE = 0.05
"""Ages that cost at most this much more than the least are called equally good."""

NO_USE_FAILURE = 0.999
"""An optimum that more than this share of engines would fail to reach is no planned overhaul."""

_STEPS = 90
"""Halvings of a bracket: enough to close any in double precision. Newton's method needs fewer."""


def _checked(shape: ArrayLike, ratio: float) -> Array:
    if not ratio > 1.0:
        raise SettingError(
            f"Cost ratio {ratio:g}: a failure must cost more than a planned overhaul.",
            "Give a ratio above 1, or leave it out.",
        )
    b = np.atleast_1d(np.asarray(shape, dtype=np.float64))
    if not bool(np.all(b > 0.0)):
        raise SettingError(f"Weibull shape {float(np.min(b)):g}.", "It must be above 0.")
    return b


def _lower_gamma(a: Array, z: Array) -> Array:
    """Return the lower incomplete gamma function γ(a, z), not regularised."""
    from scipy.special import gamma, gammainc

    return np.asarray(gamma(a) * gammainc(a, z))


def _gain(a: Array, log_z: Array) -> Array:
    """Return g(z) of the module's head, from log z."""
    z = np.exp(log_z)
    return np.asarray(np.exp((1.0 - a) * log_z) * _lower_gamma(a, z) + np.expm1(-z))


def optimum_log_z(shape: ArrayLike, ratio: float) -> Array:
    """Return log of (T*/scale)^shape for each shape; ``inf`` where no optimum exists.

    Parameters
    ----------
    shape : float or (n,) float
        Weibull shapes.
    ratio : float
        Cost of a failure over that of a planned overhaul, above 1.

    Raises
    ------
    SettingError
        If the ratio is not above 1 or a shape is not positive.

    Notes
    -----
    The bracket is exact: γ(a, z) <= z^a / a gives g(z) <= (shape - 1) z, hence the lower end; for
    z >= 1, γ(a, z) >= γ(a, 1) gives the upper end. Newton's method in log z, where the slope of g
    is (1 - a) (g + 1 - exp(-z)), stays inside it and halves where it would leave.
    """
    b = _checked(shape, ratio)
    out = np.full(b.shape, np.inf)
    has = b > 1.0
    if not has.any():
        return out
    a = 1.0 / b[has]
    target = 1.0 / (ratio - 1.0)
    low = np.log(target) - np.log(b[has] - 1.0)
    high = np.log((target + 1.0) / _lower_gamma(a, np.ones_like(a))) / (1.0 - a)
    high = np.maximum(np.maximum(high, 0.0), low)
    at = 0.5 * (low + high)
    left = np.arange(len(at))
    for _ in range(_STEPS):
        here, part = at[left], a[left]
        gain = _gain_far(part, here)
        low[left] = np.where(gain < target, here, low[left])
        high[left] = np.where(gain < target, high[left], here)
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            slope = (1.0 - part) * (gain - np.expm1(-np.exp(np.minimum(here, 5.0))))
            new = here - (gain - target) / slope
        inside = (new >= low[left]) & (new <= high[left])
        new = np.where(inside, new, 0.5 * (low[left] + high[left]))
        at[left] = new
        left = left[np.abs(new - here) > 1e-15 * (1.0 + np.abs(here))]
        if not len(left):
            break
    out[has] = at
    return out


def _gain_far(a: Array, log_z: Array) -> Array:
    """Return g(z), with its limit z^(1-a) Γ(a) - 1 where exp(log z) would overflow."""
    from scipy.special import gamma

    far = log_z > 5.0  # exp(-e^5) is below the last digit of 1
    near = _gain(a, np.minimum(log_z, 5.0))
    with np.errstate(over="ignore"):
        limit = np.exp((1.0 - a) * log_z) * gamma(a) - 1.0
    return np.where(far, limit, near)


@gate(shape=POSITIVES_ANY, scale_h=POSITIVES_ANY, ratio=POSITIVE)
def optimum_age(shape: ArrayLike, scale_h: ArrayLike, ratio: float) -> Array:
    """Return the age in hours with the least cost per hour; ``inf`` where there is none.

    Parameters
    ----------
    shape, scale_h : float or (n,) float
        Weibull parameters; hours.
    ratio : float
        Cost of a failure over that of a planned overhaul.

    Returns
    -------
    (n,) ndarray
        Hours; ``inf`` where running to failure costs least.

    Raises
    ------
    ArgumentError
        If a shape or scale is not positive.
    SettingError
        If a failure costs no more than a planned overhaul.

    References
    ----------
    Barlow & Proschan (1965), Mathematical Theory of Reliability, chapter 4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.optimum_age([1.0, 3.0], 1500.0, 5.0).round(1)
    array([  inf, 753.9])
    """
    b = np.asarray(shape, dtype=np.float64)
    log_z = optimum_log_z(b, ratio).reshape(b.shape)
    return as_asked(_age_at(log_z, b, np.asarray(scale_h, dtype=np.float64)))


def _age_at(log_z: Array, shape: Array, scale_h: Array) -> Array:
    with np.errstate(over="ignore"):
        return np.asarray(scale_h * np.exp(log_z / shape))


@gate(shape=POSITIVES_ANY, ratio=POSITIVE)
def has_practical_optimum(shape: ArrayLike, ratio: float) -> Array:
    """Return whether an optimum exists that at least 1 engine in 1,000 would reach.

    Parameters
    ----------
    shape : float or (n,) float
        Weibull shapes.
    ratio : float
        Cost of a failure over that of a planned overhaul.

    Returns
    -------
    ndarray of bool
        In the shape of `shape`.

    Raises
    ------
    SettingError
        If a failure costs no more than a planned overhaul.

    References
    ----------
    Barlow & Proschan (1965), chapter 4; 1 in 1,000 is our own limit.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.has_practical_optimum([1.0, 3.0], 5.0)
    array([False,  True])
    """
    return as_asked(_is_of_use(optimum_log_z(shape, ratio).reshape(np.shape(shape))))


def _is_of_use(log_z: Array) -> Array:
    """Return whether at least 1 engine in 1,000 would reach an optimum."""
    return np.asarray(log_z < np.log(-np.log1p(-NO_USE_FAILURE)))


def ages_of_use(shape: Array, scale_h: Array, ratio: float) -> Array:
    """Return (B,) what `optimum_age` does where `has_practical_optimum`, else ``inf``."""
    log_z = optimum_log_z(shape, ratio)
    return np.where(_is_of_use(log_z), _age_at(log_z, shape, scale_h), np.inf)


def cost_rate(hours: ArrayLike, shape: ArrayLike, scale_h: ArrayLike, ratio: float) -> Array:
    """Return the cost per hour of overhaul at `hours`, in planned overhauls.

    Parameters
    ----------
    hours, shape, scale_h : float or arrays that broadcast
        Ages and Weibull parameters. Infinite hours mean running to failure.
    ratio : float
        Cost of a failure over that of a planned overhaul.
    """
    b = _checked(shape, ratio) if np.ndim(shape) else _checked(shape, ratio)[0]
    eta = np.asarray(scale_h, dtype=np.float64)
    t = np.asarray(hours, dtype=np.float64)
    a = 1.0 / b
    with np.errstate(over="ignore"):
        z = (t / eta) ** b
    mean_time = eta * a * _lower_gamma(a, z)
    return np.asarray((1.0 - (ratio - 1.0) * np.expm1(-z)) / mean_time)


@gate(shape=POSITIVE, scale_h=HOURS_ABOVE_0, ratio=POSITIVE, share=POSITIVE)
def flat_range(
    shape: float, scale_h: float, ratio: float, *, share: float = FLAT_SHARE
) -> tuple[float, float]:
    """Return the ages within which the cost is at most ``1 + share`` times the least.

    The upper age is ``inf`` when running to failure costs no more than that. Both are ``nan``
    where there is no optimum.
    """
    best = float(optimum_age(shape, 1.0, ratio))
    if not np.isfinite(best):
        return float("nan"), float("nan")
    limit = (1.0 + share) * float(cost_rate(best, shape, 1.0, ratio))

    def edge(inside: float, outside: float) -> float:
        for _ in range(_STEPS):
            mid = float(np.sqrt(inside * outside))
            if float(cost_rate(mid, shape, 1.0, ratio)) <= limit:
                inside = mid
            else:
                outside = mid
        return inside

    # C(T) >= 1/T, so at T = 1/(2 limit) the cost is at least twice the limit
    low = edge(best, min(best, 0.5 / limit))
    if float(cost_rate(np.inf, shape, 1.0, ratio)) <= limit:
        return scale_h * low, float("inf")
    far = best
    while float(cost_rate(far, shape, 1.0, ratio)) <= limit:
        far *= 2.0
    return scale_h * low, scale_h * edge(best, far)


def mean_regret(hours: ArrayLike, shape: Array, scale_h: Array, ratio: float) -> Array:
    """Return the mean extra cost share over draws, if each of `hours` were chosen.

    Parameters
    ----------
    hours : (k,) float
        Candidate ages.
    shape, scale_h : (B,) float
        Draws of the parameters. A draw without an optimum is compared with running to failure.
    ratio : float
        Cost of a failure over that of a planned overhaul.

    Returns
    -------
    (k,) float
        0.03 means: on average 3 % dearer than the best age of each draw.
    """
    t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
    least = cost_rate(optimum_age(shape, scale_h, ratio), shape, scale_h, ratio)
    out = np.empty(len(t))
    for i, age in enumerate(t):  # one age at a time: B draws need no (k, B) block of memory
        out[i] = float(np.mean(cost_rate(age, shape, scale_h, ratio) / least - 1.0))
    return out
