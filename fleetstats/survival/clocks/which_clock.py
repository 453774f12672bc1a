"""Which clock a cause follows: hours, years, or a scale between them.

A life is a straight line from (hours, years) at entry to (hours, years) at its end. On a scale
t = (1 - w) hours / H + w years / Y the failure has a Weibull law, fitted with delayed entry; w = 0
is the clock of hours, w = 1 that of years (Farewell & Cox 1979; Kordonsky & Gertsbakh 1997, both
from memory). H and Y are the mean ages at the end, so that w = 0.5 gives both an equal part.

Likelihoods on different scales compare only as densities of one thing. All are taken by calendar
time along the engine's own line: the density on the scale times its speed there,
dt/da = (1 - w) use / H + w / Y. How much an engine is flown is taken as given.

A clock is named where it fits about as well as the best scale, and the likelihood of the other is
less than 1 / (20 k) of its own, for k causes compared. Were the other true, so great a ratio would
come up in at most 1 of 20 k cases (Markov's inequality for a ratio of likelihoods with given
parameters; with fitted ones by simulation, in the tests). A mixed scale is named where neither
clock fits about as well as the best scale, each by the likelihood ratio at 1 - 0.05 / k; the truth
of either clock lies on the edge of the scales, so that half the chance of 5 % is left (Self & Liang
1987, from memory). So at most one name in twenty is false, for all causes of a study together.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.weibull.weibull_kernel import solve_weibull

SHARES = np.linspace(0.0, 1.0, 21)
"""Shares of the years in the mixed scale at which the likelihood is worked out."""

CHANCE = 0.05
"""Of all causes of a study together: that neither clock is said to fit, though one is true."""

ODDS = 20.0
"""How much less likely the other clock must be, for a single cause."""


@value
class WhichClock(Value):
    """The likelihood of one cause on every scale from hours to years.

    Parameters
    ----------
    n_failed : float
        Failures that it rests on.
    shares : (k,) float
        Share of the years in the scale: 0 for hours alone, 1 for years alone.
    log_likelihood : (k,) float
        Greatest log likelihood at each, by calendar time; -inf where no law fits.
    best : float
        Share of the greatest.
    low, high : float
        Least and greatest share that fits about as well: at 95 % for a single cause.
    difference : float
        Log likelihood on hours less that on years: above 0 hours describe it better.
    limit : float
        What the difference must reach for a clock to be named.
    word : str
        "hours", "years", "both" (a mixed scale describes it better than either) or "not-told".
    shape_hours, shape_years : float
        Weibull shape on either clock.
    """

    n_failed: float
    shares: Floats
    log_likelihood: Floats
    best: float
    low: float
    high: float
    difference: float
    limit: float
    word: str
    shape_hours: float
    shape_years: float


def tell_clock(
    hours: tuple[ArrayLike, ArrayLike],
    years: tuple[ArrayLike, ArrayLike],
    failed: ArrayLike,
    weight: ArrayLike | None = None,
    *,
    n_causes: int = 1,
) -> WhichClock | None:
    """Say which clock describes a cause better.

    Parameters
    ----------
    hours, years : pair of (n,) float
        Age at entry and at the end of each life on both clocks; ends are later on both.
    failed : (n,) bool
        Whether the cause ended the life.
    weight : (n,) float, optional
        How many lives each row stands for.
    n_causes : int
        How many causes are compared beside each other.

    Returns
    -------
    WhichClock or None
        None where no Weibull law has a maximum on hours, or none on years.
    """
    h0, h1, a0, a1 = (np.asarray(x, dtype=np.float64) for x in (*hours, *years))
    dead = np.asarray(failed, dtype=bool)
    w = np.ones(len(h1)) if weight is None else np.asarray(weight, dtype=np.float64)
    unit_h, unit_a = float(np.average(h1, weights=w)), float(np.average(a1, weights=w))
    use = (h1 - h0) / (a1 - a0)
    found = [
        _at_share(x, (h0 / unit_h, h1 / unit_h), (a0 / unit_a, a1 / unit_a),
                  use / unit_h, 1.0 / unit_a, dead, w)
        for x in SHARES.tolist()
    ]  # fmt: skip
    height = np.array([x[0] for x in found])
    if not (math.isfinite(height[0]) and math.isfinite(height[-1])):
        return None
    limit = math.log(ODDS * max(n_causes, 1))
    near = SHARES[height >= height.max() - _within(n_causes)]
    difference = float(height[0] - height[-1])
    return WhichClock(
        n_failed=float(w[dead].sum()),
        shares=SHARES,
        log_likelihood=height,
        best=float(SHARES[int(np.argmax(height))]),
        low=float(near.min()),
        high=float(near.max()),
        difference=difference,
        limit=limit,
        word=_word(near, difference, limit),
        shape_hours=found[0][1],
        shape_years=found[-1][1],
    )


def _within(n_causes: int) -> float:
    """Return how far below the greatest log likelihood a share fits about as well."""
    from scipy.special import chdtri

    return 0.5 * float(chdtri(1.0, CHANCE / max(n_causes, 1)))


def _word(near: Array, difference: float, limit: float) -> str:
    """Return the word from the shares that fit about as well, and the difference of the clocks."""
    hours, years = near[0] == SHARES[0], near[-1] == SHARES[-1]
    if not hours and not years:
        return "both"
    if hours and difference >= limit:
        return "hours"
    return "years" if years and difference <= -limit else "not-told"


def _at_share(
    share: float,
    hours: tuple[Array, Array],
    years: tuple[Array, Array],
    use: Array,
    pace: float,
    dead: Array,
    weight: Array,
) -> tuple[float, float]:
    """Return the greatest log likelihood at one share by calendar time, and its shape."""
    entry = (1.0 - share) * hours[0] + share * years[0]
    stop = (1.0 - share) * hours[1] + share * years[1]
    speed = (1.0 - share) * use + share * pace
    try:
        solved = solve_weibull(entry, stop, dead, weight)
    except FitError:
        return -math.inf, math.nan
    return (
        solved.log_likelihood + float((weight[dead] * np.log(speed[dead])).sum()),
        solved.shape,
    )
