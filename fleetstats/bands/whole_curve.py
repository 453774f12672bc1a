"""The band of a whole fitted Weibull curve: it holds at all ages at once."""

from __future__ import annotations

import math
from dataclasses import replace

from numpy.typing import ArrayLike

from fleetstats.bands.choose import CURVES
from fleetstats.bands.interval import Band
from fleetstats.bands.likelihood.profile import region_curve
from fleetstats.bands.likelihood.region import Region, find_maximum
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core import arguments
from fleetstats.core.errors import BandError
from fleetstats.core.gate import HOURS, HOURS_EACH, LEVEL, gate, one_of
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT


@gate(fit=FIT, kind=one_of(*CURVES), hours=HOURS_EACH, width_h=HOURS, level=LEVEL)
def band_whole_curve(
    fit: Fit, kind: str, hours: ArrayLike, width_h: float = 0.0, *, level: float = 0.90
) -> Band:
    """Return a fitted Weibull curve with edges that hold for the whole curve at once.

    Parameters
    ----------
    fit : Fit
        A Weibull fit; its lives are used again.
    kind : {"reliability", "hazard", "conditional"}
        Which curve.
    hours : (m,) array_like
        Ages, rising.
    width_h : float
        Hours ahead, for ``"conditional"``.
    level : float
        Confidence that the true curve lies between the edges at every age, if lives are Weibull.

    Returns
    -------
    Band
        Its edges hold at all ages at once.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    BandError
        If the fit is of another family.

    Notes
    -----
    The edges are the extremes of the curve over the joint likelihood region of shape and scale,
    ``2 (L^ - L) <= chi2(level; 2)``: when the truth is in the region, its whole curve is in the
    band. Cheng & Iles (1983, Technometrics 25, 77-86; 1988) do so for several families.

    References
    ----------
    Cheng & Iles (1983), Technometrics 25, 77-86, and (1988), Technometrics 30, 77-86.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.bands.whole_curve import band_whole_curve
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    >>> fit = fs.fit_weibull(lives)
    >>> whole = band_whole_curve(fit, "reliability", [500, 900], level=0.9)
    >>> point = fs.band_curve(lives, fit, "reliability", [500, 900], level=0.9)
    >>> bool((whole.low < point.low).all() and (whole.high > point.high).all())
    True
    """
    if fit.family != "weibull":
        raise BandError(
            f"No band of a whole curve for a {fit.distribution.title} fit.", "Fit a Weibull."
        )
    if kind == "conditional":
        width_h = arguments.hours(width_h, "width_h", zero=False)
    t = arguments.hours_of(hours, "hours", least=1)
    surface = Surface.of_spells(fit.spells)
    # half of chi2(level; 2) in closed form
    region = Region.of_surface(surface, drop=-math.log1p(-level), maximum=find_maximum(surface))
    band = region_curve(region, fit.spells, kind, t, width_h, level=level)
    return replace(band, method="whole-curve")
