"""Profile-likelihood limits: intervals and curves from the likelihood itself.

An edge that the likelihood does not set is None with a note, never a huge number. For a Weibull
the limits are the extremes upon the edge of its likelihood-ratio region (`Region`); for the other
families the edge is walked around the maximum (`Contour`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.likelihood.contour import Contour
from fleetstats.bands.likelihood.region import Region, find_maximum
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity, log_hazard_factor
from fleetstats.core import arguments
from fleetstats.core.errors import BandError
from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.survival.fit import Fit

FARTHEST = 1000.0
"""An upper limit of a life beyond this many times the oldest age is none that data could set."""

NO_UPPER = "no upper limit from these data"
NO_LOWER = "no lower limit from these data"


def likelihood_drop(level: float) -> float:
    """Return chi2(level; 1) / 2, the fall in log-likelihood at the edge.

    Raises
    ------
    BandError
        If the level is not within 0 and 1.
    """
    from scipy.special import ndtri

    level = arguments.level(level)
    return 0.5 * float(ndtri(0.5 * (1.0 + level))) ** 2


def weibull_region(spells: Spells, *, level: float) -> Region:
    """Return the likelihood-ratio region of a Weibull for one fleet, made once for a level.

    Raises
    ------
    NoMaximum
        If the likelihood has no maximum.
    """
    surface, drop = Surface.of_spells(spells), likelihood_drop(level)
    top = kept(spells, "maximum", lambda: find_maximum(surface))
    return kept(
        spells, ("region", level), lambda: Region.of_surface(surface, drop=drop, maximum=top)
    )


def region_interval(region: Region, quantity: Quantity, *, level: float) -> Interval:
    """Return the profile limits of one quantity from a region made at the same level."""
    low, high = region.extremes(quantity)
    ref, top = region.surface.reference_h, region.maximum
    best = float(quantity.value(top.log_shape, top.log_rate, ref))
    edges: list[float | None] = [
        None if e[1] else float(quantity.of_score(e[0], ref)) for e in (low, high)
    ]
    if quantity.kind == "reliability":
        edges.reverse()
    return trim_edges(quantity, best, edges[0], edges[1], ref, level=level, method="profile")


def trim_edges(
    quantity: Quantity,
    estimate: float | None,
    low: float | None,
    high: float | None,
    oldest_h: float,
    *,
    level: float,
    method: str,
) -> Interval:
    """Make an interval; edges that say nothing become None with a note."""
    if low is not None and not (np.isfinite(low) and low > 0.0):
        low = None
    if high is not None and not np.isfinite(high):
        high = None
    if high is not None and quantity.unit == "h" and high > FARTHEST * oldest_h:
        high = None
    if quantity.unit == "probability" and high is not None and high >= 1.0:
        high = None
    return Interval(
        name=quantity.name,
        estimate=estimate,
        low=low,
        high=high,
        level=level,
        method=method,
        unit=quantity.unit,
        note_low=NO_LOWER if low is None else "",
        note_high=NO_UPPER if high is None else "",
    )


def band_quantity(
    fit: Fit, quantity: Quantity, *, level: float, method: str = "profile"
) -> Interval:
    """Return limits of any quantity of a fitted family.

    Parameters
    ----------
    fit : Fit
        Its spells are used again.
    quantity : Quantity
        What is asked.
    level : float
        Two-sided; each edge is a one-sided bound at ``(1 + level) / 2``.
    method : {"profile", "wald"}
        ``"wald"`` is for comparison only: too narrow on the side that matters with few failures.

    Raises
    ------
    BandError
        If the method is unknown or the family has no such quantity.
    NoMaximum
        If the likelihood has no maximum.
    """
    if method == "wald":
        from fleetstats.bands.likelihood.wald import band_normal

        return band_normal(fit, quantity, level=level)
    if method != "profile":
        raise BandError(f"Method '{method}' is not known here.", "Use 'profile' or 'wald'.")
    if fit.family == "weibull":
        return region_interval(weibull_region(fit.spells, level=level), quantity, level=level)
    contour = Contour.of_fit(fit, drop=likelihood_drop(level))
    low, high = contour.extremes(quantity)
    return trim_edges(
        quantity,
        contour.best(quantity),
        low,
        high,
        fit.spells.oldest_h,
        level=level,
        method="profile",
    )


def curve_quantity(
    fit: Fit, kind: str, hours: ArrayLike, width_h: float = 0.0, *, level: float
) -> Band:
    """Return a curve of a fitted family with pointwise profile limits; kinds as in `Quantity`."""
    t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
    if fit.family == "weibull":
        region = weibull_region(fit.spells, level=level)
        return region_curve(region, fit.spells, kind, t, width_h, level=level)
    contour = Contour.of_fit(fit, drop=likelihood_drop(level))
    best, low, high = contour.curve(kind, t, width_h)
    return make_curve(
        kind, t, best, low, high, width_h=width_h, spells=fit.spells, level=level, method="profile"
    )


def region_curve(
    region: Region, spells: Spells, kind: str, hours: Array, width_h: float = 0.0, *, level: float
) -> Band:
    """Return a curve with profile limits from a region of `spells` made at the same level."""
    t = np.asarray(hours, dtype=np.float64)
    low, high = region.curve(kind, t, width_h)
    top, ref = region.maximum, region.surface.reference_h
    best = top.log_rate + log_hazard_factor(kind, top.log_shape, t, width_h, ref)
    one = Quantity(kind=kind, hours=1.0, width_h=1.0)
    ends = [one.of_score(np.where(e[1] > 0, np.nan, e[0]), ref) for e in (low, high)]
    if kind == "reliability":
        ends.reverse()
    return make_curve(
        kind,
        t,
        one.of_score(best, ref),
        ends[0],
        ends[1],
        width_h=width_h,
        spells=spells,
        level=level,
        method="profile",
    )


CURVE_NAMES = {
    "reliability": "reliability",
    "hazard": "failure rate",
    "conditional": "chance of failing within",
}


def make_curve(
    kind: str,
    hours: Array,
    estimate: Array,
    low: Array,
    high: Array,
    *,
    width_h: float,
    spells: Spells,
    level: float,
    method: str,
) -> Band:
    """Make a band from its arrays (m,), with the hours to which spells support it."""
    name = CURVE_NAMES[kind]
    return Band(
        name=f"{name} {width_h:g} h" if kind == "conditional" else name,
        hours=hours,
        estimate=estimate,
        low=low,
        high=high,
        level=level,
        method=method,
        unit="per h" if kind == "hazard" else "probability",
        supported_to_h=spells.horizon_h(),
    )
