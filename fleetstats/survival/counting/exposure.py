"""Hours at risk and failures by age band, with exact limits of the rate in each."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import hours_of, wrong
from fleetstats.core.errors import FitError
from fleetstats.core.gate import AMOUNTS, HOURS_EACH, LEVEL, gate
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.product_limit import ends
from fleetstats.survival.lives import LIVES

MOST_BANDS = 10


@gate(count=AMOUNTS, level=LEVEL)
def poisson_limits(count: ArrayLike, *, level: float) -> tuple[Array, Array]:
    """Return exact two-sided limits of a Poisson mean, given the count seen.

    Garwood (1936): chi-square quantiles with 2x and 2x + 2 degrees of freedom, halved. The lower
    limit of a count of 0 is 0. Each edge at two-sided `level` is a one-sided bound at
    ``(1 + level) / 2``.

    Parameters
    ----------
    count : float or array_like
        Events seen; whole numbers, or weighted counts between them.
    level : float
        Two-sided confidence.

    Returns
    -------
    low, high : ndarray
        Limits of the mean, in the shape of `count`.

    References
    ----------
    Garwood (1936), Biometrika 28, 437-442.

    Examples
    --------
    >>> import fleetstats as fs
    >>> low, high = fs.poisson_limits([0, 3], level=0.90)
    >>> low.round(3), high.round(3)
    (array([0.   , 0.818]), array([2.996, 7.754]))
    """
    from scipy.special import gammaincinv

    x = np.asarray(count, dtype=np.float64)
    tail = 0.5 * (1.0 - level)
    low = np.where(x > 0, gammaincinv(np.where(x > 0, x, 1.0), tail), 0.0)
    return low, np.asarray(gammaincinv(x + 1.0, 1.0 - tail))


@value
class ExposureTable(Value):
    """One row per age band ``(low_h, high_h]``.

    Parameters
    ----------
    low_h, high_h : (m,) float
        Edges of each band.
    n_lives : (m,) float
        Weighted lives at risk at any age in the band.
    exposure_h : (m,) float
        Hours at risk.
    n_failed : (m,) float
        Failures in question; one only known to lie in an interval counts at its middle.
    rate_per_h, rate_low_per_h, rate_high_per_h : (m,) float
        Failures per hour with exact Poisson limits; NaN without exposure.
    level : float
        Two-sided confidence of the limits.
    """

    low_h: Floats
    high_h: Floats
    n_lives: Floats
    exposure_h: Floats
    n_failed: Floats
    rate_per_h: Floats
    rate_low_per_h: Floats
    rate_high_per_h: Floats
    level: float

    def __repr__(self) -> str:
        return (
            f"Exposure: {len(self.low_h)} age bands, {self.exposure_h.sum():,.0f} h at risk, "
            f"{self.n_failed.sum():g} failed"
        )


def choose_edges(oldest_h: float, *, most: int = MOST_BANDS) -> Array:
    """Return round edges from 0 past `oldest_h`, at most `most` bands."""
    if not oldest_h > 0:
        raise FitError("There are no hours at risk to divide.", "Add records with hours.")
    raw = oldest_h / most
    power = 10.0 ** np.floor(np.log10(raw))
    step = next(m * power for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * power >= raw * (1 - 1e-12))
    return np.asarray(step * np.arange(int(np.ceil(oldest_h / step - 1e-12)) + 1))


@gate(spells=LIVES, edges=HOURS_EACH.or_none, level=LEVEL)
def estimate_exposure(
    spells: Spells, edges: ArrayLike | None = None, *, level: float = 0.90
) -> ExposureTable:
    """Add up hours at risk and failures by age band, with exact Poisson limits of each rate.

    Parameters
    ----------
    spells : Spells
        Endings other than the failure in question only end the exposure.
    edges : (m + 1,) float or None
        Rising hours; None chooses round ones to the oldest age. What lies outside is not counted.
    level : float
        Two-sided confidence.

    Returns
    -------
    ExposureTable
        One row for each band of age.

    Raises
    ------
    ArgumentError
        If edges do not rise or the level is outside 0 to 1.

    References
    ----------
    Garwood (1936), Biometrika 28, 437-442.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> print(fs.estimate_exposure(lives, [0, 600, 1200]))
    Exposure: 2 age bands, 5,050 h at risk, 3 failed
    """
    cut = choose_edges(spells.oldest_h) if edges is None else hours_of(edges, "edges")
    if len(cut) < 2 or not np.all(np.diff(cut) > 0):
        raise wrong("edges", cut.tolist(), "Give two or more rising hours.")
    end, w = ends(spells), spells.weight
    lived = _hours_below(end, w, cut) - _hours_below(spells.entry, w, cut)
    exposure = np.diff(lived)
    dead = spells.failed
    n_failed = np.diff(_weight_to(end[dead], w[dead], cut))
    # At risk anywhere in (a, b]: entered before b and ended after a.
    n_lives = _weight_below(spells.entry, w, cut[1:]) - _weight_to(end, w, cut[:-1])
    low, high = poisson_limits(n_failed, level=level)
    with np.errstate(divide="ignore", invalid="ignore"):
        rates = [np.where(exposure > 0, x / exposure, np.nan) for x in (n_failed, low, high)]
    return ExposureTable(
        low_h=cut[:-1],
        high_h=cut[1:],
        n_lives=n_lives,
        exposure_h=exposure,
        n_failed=n_failed,
        rate_per_h=rates[0],
        rate_low_per_h=rates[1],
        rate_high_per_h=rates[2],
        level=level,
    )


def _hours_below(ages: Array, weight: Array, cut: Array) -> Array:
    """Return the sum of w min(age, c) for each edge c, by one sort."""
    order = np.argsort(ages, kind="stable")
    a, w = ages[order], weight[order]
    i = np.searchsorted(a, cut, side="right")
    head = np.concatenate([[0.0], np.cumsum(w * a)])[i]
    tail = w.sum() - np.concatenate([[0.0], np.cumsum(w)])[i]
    return np.asarray(head + cut * tail)


def _weight_to(ages: Array, weight: Array, cut: Array) -> Array:
    order = np.argsort(ages, kind="stable")
    head = np.concatenate([[0.0], np.cumsum(weight[order])])
    return np.asarray(head[np.searchsorted(ages[order], cut, side="right")])


def _weight_below(ages: Array, weight: Array, cut: Array) -> Array:
    order = np.argsort(ages, kind="stable")
    head = np.concatenate([[0.0], np.cumsum(weight[order])])
    return np.asarray(head[np.searchsorted(ages[order], cut, side="left")])
