"""A parameter of a fitted law with its limits, and the search that finds where a profile ends."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from fleetstats.core.value import Value, value

NO_RTOL: Final = 4.0 * 2.0**-52
"""Relative tolerance at which a root is searched to the last digit."""


@value
class Parameter(Value):
    """One parameter of a fitted law.

    Parameters
    ----------
    name, unit : str
        The unit is blank for a number without one.
    estimate : float
        Maximum likelihood.
    std_error : float
        From the curvature there.
    low, high : float or None
        Profile-likelihood limits; None where the likelihood gives none.
    level : float
        Two-sided.
    """

    name: str
    unit: str
    estimate: float
    std_error: float
    low: float | None
    high: float | None
    level: float

    def __repr__(self) -> str:
        low, high = ("no limit" if x is None else f"{x:.4g}" for x in (self.low, self.high))
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.name}: {self.estimate:.4g}{unit} ({low} to {high}, {100 * self.level:g} %)"


def profile_drop(level: float, parameters: int = 1) -> float:
    """Return ``chi2(level; k) / 2``, the fall of a log-likelihood at the edge of a region in k.

    With one parameter that is the fall at two-sided profile limits.
    """
    from scipy import special

    if parameters == 1:
        return 0.5 * float(special.ndtri(0.5 + 0.5 * level)) ** 2
    # half of a chi-square of k degrees of freedom is a gamma variable of shape k / 2
    return float(special.gammaincinv(0.5 * parameters, level))


def walk_out(
    short: Callable[[float], float],
    best: float,
    sign: float,
    *,
    step: float,
    farthest: float,
    xtol: float = 1e-8,
    rtol: float = NO_RTOL,
) -> float | None:
    """Return where a profile has fallen far enough on one side of its top; None if it never does.

    Parameters
    ----------
    short : callable
        The fall less the one that is asked for: negative inside the limits.
    best : float
        Where the top is.
    sign : float
        -1 for the lower edge, 1 for the upper.
    step : float
        How far the first look is.
    farthest : float
        Distance from the top past which the search says that there is none.
    xtol, rtol : float
        Tolerances of the root.
    """
    from scipy import optimize

    inner, outer, width = best, best + sign * step, step
    while short(outer) < 0.0:
        if abs(outer - best) > farthest:
            return None
        inner, width = outer, 1.6 * width
        outer += sign * width
    return float(optimize.brentq(short, inner, outer, xtol=xtol, rtol=rtol))
