"""Edges that hold at every look at once, however many looks there are.

The ratio of prior to posterior at the true parameters is a martingale over looks: its chance of
ever falling to alpha is at most alpha, whatever made somebody look again (Waudby-Smith & Ramdas
2020; the inequality is Ville's 1939). The parameters that a ratio above alpha leaves open therefore
hold the truth at all looks at once with 1 - alpha. Of the chance of reaching the claimed hours all
values stay open for which some shape does: the marginal likelihood is held against the profile.

Any prior fixed before the records gives such edges; a fitting one gives closer ones. The shape has
the study's prior, as stated and never weakened by the data; the log of the cumulative hazard at the
claimed hours has a normal one about that of the claim's limit, of which the lower edge takes the
half on the side of fewer failures and the upper edge the other, as what it is to show.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core.errors import BandError
from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells

SPREAD = 1.0
"""Standard deviation of the prior on log cumulative hazard: a factor of 2.7 either way. Chosen for
claims whose truth lies within a factor of a few of the limit; it moves the reach, not the error."""

FARTHEST = 7.0
"""Spreads of the prior that the grid covers to either side; beyond lies less than 1e-11 of it."""

COARSEST, LEAST_SHARE = 0.06, 0.4
"""Greatest step of the grid, and the most that a step may be of a standard error ``r^-1/2``."""

MOST_FAILURES = 4000.0
"""Failures from which on the grid is no finer; interpolation makes up for the rest."""


class OpenChances(NamedTuple):
    """Edges of the chance of reaching the claimed hours; None where there is none."""

    low: float | None
    high: float | None


def any_number_edges(
    spells: Spells, hours: float, limit: float, *, alpha: float, prior: ShapePrior
) -> OpenChances:
    """Return the edges of a reliability that hold at all looks at once.

    Parameters
    ----------
    spells : Spells
        Lives at risk at this look.
    hours : float
        Claimed hours.
    limit : float
        Reliability at which the claim is exactly at its limit, about which the prior lies.
    alpha : float
        Chance that an edge is ever wrong, at most; of each edge.
    prior : ShapePrior
        On shape.

    Raises
    ------
    BandError
        If hours, limit or alpha are impossible.
    """
    if not (hours > 0.0 and 0.0 < limit < 1.0 and 0.0 < alpha < 1.0):
        raise BandError(
            f"Edges at {hours} h about {limit}, with a chance of {alpha}.",
            "Hours must be positive, the other two lie between 0 and 1.",
        )
    key = ("any number of looks", hours, limit, alpha, prior.median, prior.log_sd)
    return kept(spells, key, lambda: _edges(spells, hours, limit, alpha, prior))


def _edges(
    spells: Spells, hours: float, limit: float, alpha: float, prior: ShapePrior
) -> OpenChances:
    surface = Surface.of_spells(spells)
    step = min(COARSEST, LEAST_SHARE / np.sqrt(min(surface.n_failed, MOST_FAILURES) + 1.0))
    theta = _about(np.log(prior.median), FARTHEST * prior.log_sd, step)
    inside = (theta >= surface.sums.low) & (theta <= surface.sums.high)
    theta = theta[inside]
    away = _about(0.0, FARTHEST * SPREAD, step)
    score = np.log(-np.log(limit)) + away
    u = score[None, :] - np.exp(theta)[:, None] * np.log(hours / surface.reference_h)
    fit = np.maximum(surface.log_likelihood(theta, u), -1e300)
    z = (theta - np.log(prior.median)) / prior.log_sd
    density = -0.5 * (z[:, None] ** 2 + (away[None, :] / SPREAD) ** 2) - np.log(
        2.0 * np.pi * prior.log_sd * SPREAD
    )
    profile = _peaks(fit, theta)
    drop = np.log(1.0 / alpha)
    held = [
        _log_sum(fit[:, side] + density[:, side] + np.log(step * step) + _twice(away[side]))
        for side in (away <= 0.0, away >= 0.0)
    ]
    most = _last_open(profile, score, held[0] - drop)
    least = _last_open(profile[::-1], score[::-1], held[1] - drop)
    return OpenChances(
        low=None if most is None else float(np.exp(-np.exp(most))),
        high=None if least is None else float(np.exp(-np.exp(least))),
    )


def _about(middle: float, reach: float, step: float) -> Array:
    """Return a grid of even steps, symmetric about a middle that it holds."""
    n = int(np.ceil(reach / step))
    return np.asarray(middle + step * np.arange(-n, n + 1))


def _twice(away: Array) -> Array:
    """Return (L,) logs of the weight in half a prior: 2, and 1 on its edge, which both share."""
    return np.asarray(np.where(away == 0.0, 0.0, np.log(2.0)))


def _log_sum(x: Array) -> float:
    top = float(x.max())
    return top + float(np.log(np.exp(x - top).sum()))


def _peaks(fit: Array, theta: Array) -> Array:
    """Return (L,) maxima over shapes of columns (G, L), by the parabola through three points."""
    at = np.clip(fit.argmax(axis=0), 1, len(theta) - 2)
    column = np.arange(fit.shape[1])
    a, b, c = (fit[at + k, column] for k in (-1, 0, 1))
    bend = a - 2.0 * b + c
    shift = np.where(bend < 0.0, 0.5 * (a - c) / np.where(bend < 0.0, bend, -1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    top = b + 0.5 * (c - a) * shift + 0.5 * bend * shift**2
    return np.asarray(np.maximum(top, np.maximum(a, np.maximum(b, c))))


def _last_open(profile: Array, score: Array, least: float) -> float | None:
    """Return the last score whose profile is above `least`; None if there is no end to them."""
    above = np.flatnonzero(profile > least)
    if len(above) == 0 or above[-1] == len(score) - 1:
        return None
    i = int(above[-1])
    share = (profile[i] - least) / (profile[i] - profile[i + 1])
    return float(score[i] + share * (score[i + 1] - score[i]))
