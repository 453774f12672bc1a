"""The one door to bands: choose a method by what is in hand, and ask it.

First version: profile likelihood from four failures on, the mixture over shape below that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.mixture import ShapeMixture, ShapePrior
from fleetstats.bands.power import PowerSums
from fleetstats.bands.profile import (
    band_quantity,
    make_curve,
    region_curve,
    trim_edges,
    weibull_region,
)
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError, NoMaximum
from fleetstats.core.value import Value
from fleetstats.records.settings import EvidenceKeys
from fleetstats.spells.spells import Spells
from fleetstats.survival.fit import Fit

FEW = 4.0
"""Failures below which the likelihood alone is not trusted with the shape."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodChoice(Value):
    """Which method, why, and what it was measured to hold; None where no cell is near."""

    method: str
    why: str
    measured_coverage: float | None


def choose_method(spells: Spells, settings: EvidenceKeys | None = None) -> MethodChoice:
    """Choose the method of the bands by what is in hand."""
    asked = (settings or EvidenceKeys()).method
    if asked != "auto":
        return MethodChoice(method=asked, why="The study asks for it.", measured_coverage=None)
    r = spells.n_failed
    if r >= FEW:
        return MethodChoice(
            method="profile",
            why=f"{r:g} failures let the likelihood speak.",
            measured_coverage=None,
        )
    return MethodChoice(
        method="shape-mixture",
        why=f"{r:g} failures do not tell the shape, so shapes are mixed by a stated prior.",
        measured_coverage=None,
    )


def band(
    spells: Spells,
    fit: Fit | None,
    quantity: Quantity,
    *,
    level: float,
    method: str = "auto",
    settings: EvidenceKeys | None = None,
    seed: int = 0,  # noqa: ARG001 - resampling methods are not built yet
) -> Interval:
    """Return one quantity with its band, by the method in hand or the one asked for.

    Parameters
    ----------
    spells : Spells
        The lives.
    fit : Fit or None
        A fit of these spells; None where none exists.
    quantity : Quantity
        What is asked.
    level : float
        Two-sided.
    method : str
        ``"auto"``, or one of the methods of the settings.
    settings : EvidenceKeys, optional
        Shape prior, resamples and method of the study.
    seed : int
        Of resampling methods.
    """
    keys = settings or EvidenceKeys()
    use = choose_method(spells, keys).method if method == "auto" else method
    if use == "profile" and fit is not None:
        try:
            return band_quantity(fit, quantity, level=level)
        except NoMaximum:
            use = "shape-mixture"
    if use not in ("profile", "shape-mixture"):
        raise BandError(f"Method '{use}' is not built yet.", "Use 'profile' or 'shape-mixture'.")
    pessimist, optimist = _mixtures(spells, keys)
    tail = 0.5 * (1.0 - level)
    falls = quantity.falls_with_rate
    low = float((pessimist if falls else optimist).bound(quantity, tail)[0])
    high: float | None = float((optimist if falls else pessimist).bound(quantity, 1.0 - tail)[0])
    middle: float | None = float(_mixtures(spells, keys, 0.5)[0].bound(quantity, 0.5)[0])
    if spells.n_failed < 1.0 and falls:
        high = middle = None
    return trim_edges(
        quantity, middle, low, high, spells.oldest_h, level=level, method="shape-mixture"
    )


def band_curve(
    spells: Spells,
    fit: Fit | None,
    kind: str,
    hours: ArrayLike,
    *,
    level: float,
    width_h: float = 0.0,
    method: str = "auto",
    settings: EvidenceKeys | None = None,
    seed: int = 0,
) -> Band:
    """Return ``"reliability"``, ``"hazard"`` or ``"conditional"`` at `hours` (m,) with its band."""
    t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
    keys = settings or EvidenceKeys()
    use = choose_method(spells, keys).method if method == "auto" else method
    if use == "profile" and fit is not None and fit.family == "weibull":
        try:
            region = weibull_region(spells, level=level)
            return region_curve(region, spells, kind, t, width_h, level=level)
        except NoMaximum:
            use = "shape-mixture"
    rows = [
        band(
            spells,
            fit,
            Quantity(kind=kind, hours=max(float(v), 1e-9), width_h=width_h),
            level=level,
            method=use,
            settings=keys,
            seed=seed,
        )
        for v in t
    ]
    columns = [
        np.array([np.nan if getattr(r, f) is None else getattr(r, f) for r in rows])
        for f in ("estimate", "low", "high")
    ]
    return make_curve(kind, t, *columns, width_h=width_h, spells=spells, level=level, method=use)


def _mixtures(
    spells: Spells, keys: EvidenceKeys, added: float | None = None
) -> tuple[ShapeMixture, ShapeMixture]:
    prior = ShapePrior(
        median=keys.prior_shape_median, log_sd=keys.prior_shape_log_sd, source=keys.prior_source
    )
    # until the mixture reads intervals, a failure between checks counts at its earliest hours
    stop = np.maximum(spells.exit_lower, spells.entry + 1e-9 * spells.exit_upper)
    sums = PowerSums.of_arrays(spells.entry, stop, spells.failed, spells.weight)
    up = 1.0 if added is None else added
    down = 1e-3 if added is None else added
    return (
        ShapeMixture.of_sums(sums, prior, added=up),
        ShapeMixture.of_sums(sums, prior, added=down),
    )
