"""The band of a whole fitted curve: it holds at all ages at once."""

from __future__ import annotations

from dataclasses import replace

from numpy.typing import ArrayLike

from fleetstats.bands.choose import CURVES
from fleetstats.bands.interval import Band
from fleetstats.bands.likelihood.contour import Contour
from fleetstats.bands.likelihood.profile import make_curve, region_curve
from fleetstats.bands.likelihood.region import Region, find_maximum
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core import arguments
from fleetstats.core.errors import BandError
from fleetstats.core.gate import HOURS, HOURS_EACH, LEVEL, gate, one_of
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT
from fleetstats.survival.parameter import profile_drop

MOST_PARAMETERS = 2
"""Parameters of a region whose edge can be walked."""


@gate(fit=FIT, kind=one_of(*CURVES), hours=HOURS_EACH, width_h=HOURS, level=LEVEL)
def band_whole_curve(
    fit: Fit, kind: str, hours: ArrayLike, width_h: float = 0.0, *, level: float = 0.90
) -> Band:
    """Return a fitted curve with edges that hold for the whole curve at once.

    Parameters
    ----------
    fit : Fit
        Of any family with one or two parameters; its lives are used again.
    kind : {"reliability", "hazard", "conditional"}
        Which curve.
    hours : (m,) array_like
        Ages, rising.
    width_h : float
        Hours ahead, for ``"conditional"``.
    level : float
        Confidence that the true curve lies between the edges at every age, if lives are of that
        family.

    Returns
    -------
    Band
        Its edges hold at all ages at once.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    BandError
        If the family has three parameters or more, or the curvature of its fit describes no
        maximum.

    Notes
    -----
    The edges are the extremes of the curve over the joint likelihood region of the parameters,
    ``2 (L^ - L) <= chi2(level; k)`` with k their number: when the truth is in the region, its whole
    curve is in the band. Cheng & Iles (1983, Technometrics 25, 77-86; 1988) do so for several
    families. An edge is NaN where the region is open. The Weibull's region is walked shape by shape
    (`likelihood/region.py`), the others' by angle around the maximum (`likelihood/contour.py`).

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
    if kind == "conditional":
        width_h = arguments.hours(width_h, "width_h", zero=False)
    t = arguments.hours_of(hours, "hours", least=1)
    if fit.family == "weibull":
        surface = Surface.of_spells(fit.spells)
        drop = profile_drop(level, 2)
        region = Region.of_surface(surface, drop=drop, maximum=find_maximum(surface))
        band = region_curve(region, fit.spells, kind, t, width_h, level=level)
        return replace(band, method="whole-curve")
    if len(fit.names) > MOST_PARAMETERS:
        raise BandError(
            f"No band of a whole curve for a {fit.distribution.title} fit: its region in "
            f"{len(fit.names)} parameters is not walked.",
            "Fit a family of two parameters.",
        )
    contour = Contour.of_fit(fit, drop=profile_drop(level, len(fit.names)))
    best, low, high = contour.curve(kind, t, width_h)
    return make_curve(
        kind, t, best, low, high, width_h=width_h, spells=fit.spells, level=level,
        method="whole-curve",
    )  # fmt: skip
