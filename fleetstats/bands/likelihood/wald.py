"""Normal-approximation limits, for comparison only.

The interval is symmetric on the log scale of a life, a parameter or a rate, and on the log of the
cumulative hazard for a probability, with the delta method for its width (Meeker, Escobar & Pascual
2021, chapter 8). Fewer than some 50 failures make its one-sided edges untrue (Jeng & Meeker 2000).
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.contour import family_value
from fleetstats.bands.quantity import Quantity
from fleetstats.core import arguments
from fleetstats.survival.fit import Fit

STEP = 1e-5
"""Relative step of the numerical gradient; its error is about the square of it."""


def band_normal(fit: Fit, quantity: Quantity, *, level: float) -> Interval:
    """Return normal-approximation limits of a quantity of a fitted family.

    Raises
    ------
    BandError
        If the family has no such quantity.
    """
    from scipy.special import ndtri

    level = arguments.level(level)

    def scaled(natural: np.ndarray) -> float:
        v = family_value(fit.distribution, natural, quantity)
        if quantity.kind == "reliability":
            return float(np.log(-np.log(v)))
        if quantity.kind == "conditional":
            return float(np.log(-np.log1p(-v)))
        return float(np.log(v))

    best = family_value(fit.distribution, fit.estimate, quantity)
    gradient = np.zeros(len(fit.estimate))
    for i, v in enumerate(fit.estimate):
        step = STEP * max(abs(float(v)), 1e-12)
        up, down = fit.estimate.copy(), fit.estimate.copy()
        up[i] += step
        down[i] -= step
        gradient[i] = (scaled(up) - scaled(down)) / (2.0 * step)
    half = float(ndtri(0.5 * (1.0 + level)) * np.sqrt(gradient @ fit.covariance @ gradient))
    middle = scaled(fit.estimate)
    ends = np.array([middle - half, middle + half])
    if quantity.kind == "reliability":
        low, high = np.exp(-np.exp(ends))[::-1]
    elif quantity.kind == "conditional":
        low, high = -np.expm1(-np.exp(ends))
    else:
        low, high = np.exp(ends)
    return Interval(
        name=quantity.name,
        estimate=best,
        low=float(low),
        high=float(high),
        level=level,
        method="wald",
        unit=quantity.unit,
        note_low="normal approximation, for comparison only",
        note_high="normal approximation, for comparison only",
    )
