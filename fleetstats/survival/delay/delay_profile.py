"""One point of the delay-time model's profile: the arrival of faults refitted, the delay held."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.survival.delay.delay_likelihood import Prepared, delay_part, log_likelihood


@value
class DelayPrior(Value):
    """A stated lognormal prior on the mean warning time.

    Parameters
    ----------
    median_h : float
        Median of the mean warning time, hours.
    log_sd : float
        Standard deviation of its logarithm.
    source : str
        What it rests on, for the report.

    Examples
    --------
    >>> import fleetstats as fs
    >>> prior = fs.DelayPrior(median_h=150, log_sd=0.5, source="bench runs of the shop")
    >>> prior.median_h
    150
    """

    median_h: float
    log_sd: float
    source: str = ""

    def log_density(self, mean_h: float) -> float:
        """Return the log density in log hours, up to a constant; minus infinity at infinity."""
        if math.isinf(mean_h):
            return -math.inf
        return -0.5 * ((math.log(mean_h) - math.log(self.median_h)) / self.log_sd) ** 2


Row = tuple[float, float, float, float, float, float, float, float, float]
"""Mean warning time, its shape, log-likelihood, log faults, its standard error, arrival shape, log
faults with its standard error at the age wanted, and the share of faults without warning."""


def refit_arrival(
    pre: Prepared,
    mean_h: float,
    shape: float,
    detection: float,
    arrival: str,
    start: tuple[float, float],
    prior: DelayPrior | None,
    at_h: float | None = None,
    no_warning: float = 0.0,
) -> Row | None:
    """Refit the arrival of faults with the delay held; None where the records cannot be so."""
    from scipy.optimize import minimize

    part = delay_part(pre, mean_h, shape, detection, no_warning)
    free = 2 if arrival == "weibull" else 1

    def both(x: Array) -> tuple[float, Array]:
        value, slope = log_likelihood(pre, part, float(x[0]), float(x[1]) if free == 2 else 0.0)
        if not math.isfinite(value):
            return 1e12, np.zeros(free)
        return -value, -slope[:free]

    bounds = [(-25.0, 6.0), (math.log(0.2), math.log(8.0))][:free]
    out = minimize(both, np.array(start[:free]), jac=True, method="L-BFGS-B", bounds=bounds)
    if out.fun >= 1e11:
        return None
    x = out.x
    spread = arrival_spread(lambda y: both(y)[1], x)
    value = -float(out.fun) + (prior.log_density(mean_h) if prior is not None else 0.0)
    a = math.exp(float(x[1])) if free == 2 else 1.0
    faults, se = float(x[0]), math.sqrt(spread[0, 0])
    at, at_se = rate_at(pre, at_h if free == 2 else None, faults, a, spread)
    return mean_h, shape, value, faults, se, a, at, at_se, no_warning


def rate_at(
    pre: Prepared, at_h: float | None, log_faults: float, a: float, spread: Array
) -> tuple[float, float]:
    """Return log faults at the age wanted and its standard error; of the mean where none is.

    `spread` is the covariance of log faults and, where arrival is a power `a` of age, of log `a`.
    """
    if at_h is None:
        return log_faults, math.sqrt(float(spread[0, 0]))
    # log rate(at) = log faults + log a + (a - 1) log(at / horizon); slope in log faults, log a.
    old = math.log(at_h / pre.horizon_h)
    slope = np.array([1.0, 1.0 + a * old])
    return log_faults + math.log(a) + (a - 1.0) * old, math.sqrt(float(slope @ spread @ slope))


def arrival_spread(slope: Callable[[Array], Array], at: Array) -> Array:
    """Covariance of the refitted arrival, from the slopes of minus the log-likelihood about it.

    The shape of arrival is refitted too: with it held, the rate would look better known.
    """
    step = 1e-4
    curve = np.array([
        (slope(at + e) - slope(at - e)) / (2 * step) for e in step * np.eye(len(at))
    ])  # fmt: skip
    return _inverse(0.5 * (curve + curve.T))


def _inverse(curve: Array) -> Array:
    """Invert the curvature; a direction that the records leave flat gets a wide error."""
    value, vector = np.linalg.eigh(curve)
    return np.asarray((vector / np.maximum(value, 1e-9)) @ vector.T)


def sharpen(
    pre: Prepared,
    best: Row,
    ratio: float,
    detection: float,
    arrival: str,
    prior: DelayPrior | None,
    at_h: float | None,
) -> Row:
    """Sharpen the best mean warning time between its neighbours on the grid."""
    from scipy.optimize import minimize_scalar

    centre, start = math.log(best[0]), (best[3], math.log(best[5]))

    def cost(log_mean: float) -> float:
        row = refit_arrival(pre, math.exp(log_mean), best[1], detection, arrival, start, prior)
        return 1e12 if row is None else -row[2]

    width = math.log(ratio)
    out = minimize_scalar(
        cost, bounds=(centre - width, centre + width), method="bounded", options={"xatol": 1e-3}
    )
    row = refit_arrival(
        pre, math.exp(float(out.x)), best[1], detection, arrival, start, prior, at_h
    )
    return row if row is not None and row[2] >= best[2] else best
