"""What every study shows of its lives: counts, curves, families compared, and their bands."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.quoted import Quoter, no_best_shape
from fleetstats.advice.results import Description, Sureness
from fleetstats.advice.risk import chance_curve
from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.wald import band_normal
from fleetstats.bands.method import choose_method
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import FitError
from fleetstats.core.gate import gate
from fleetstats.core.value import Array
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.exposure import estimate_exposure
from fleetstats.survival.counting.incidence import estimate_outer_band
from fleetstats.survival.counting.plotting import estimate_plot_points
from fleetstats.survival.counting.product_limit import (
    estimate_cumulative_hazard,
    estimate_product_limit,
)
from fleetstats.survival.counting.turnbull import estimate_turnbull
from fleetstats.survival.families.families import Comparison, fit_families
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import LIVES, SETTINGS
from fleetstats.survival.weibull.fit_weibull import fit_weibull

CURVE_POINTS = 97
"""Ages at which curves are computed; enough for a smooth line at print size."""

PAST = 1.1
"""How far past the oldest engine or the claim the curves run, to show where evidence ends."""


@gate(spells=LIVES, settings=SETTINGS)
def describe(spells: Spells, settings: Settings) -> Description:
    """Return what the lives show before any family is assumed.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    settings : Settings
        Of which the confidence is read.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    """
    level = settings.study.confidence
    finding = bool(np.any(spells.event == Event.FINDING))
    return Description(
        product_limit=estimate_product_limit(spells, level=level),
        cumulative_hazard=estimate_cumulative_hazard(spells),
        exposure=estimate_exposure(spells, level=level),
        outer_band=estimate_outer_band(spells) if finding else None,
        turnbull=estimate_turnbull(spells) if bool(np.any(spells.interval_known)) else None,
        points=estimate_plot_points(spells) if spells.n_failed > 0 else None,
    )


def fit_or_reason(spells: Spells) -> tuple[Fit | None, str]:
    """Return the Weibull fit, or None and the sentence that says why there is none."""
    try:
        return fit_weibull(spells), ""
    except FitError as error:
        return None, str(error)


def compare_families(spells: Spells, fit: Fit | None) -> Comparison | None:
    """Return other families beside the Weibull fit; None without a fit or where one fails."""
    try:
        return None if fit is None else fit_families(spells)
    except FitError:
        return None


def curve_hours(spells: Spells, settings: Settings) -> Array:
    """Return rising hours from near 0 to past the claim and the oldest engine."""
    last = PAST * max(spells.oldest_h, settings.study.claimed_interval_h or 0.0)
    return np.linspace(last / 400, last, CURVE_POINTS)


def be_sure(spells: Spells, fit: Fit | None, settings: Settings) -> Sureness:
    """Return the bands of all numbers and curves that the report shows."""
    level, keys, seed = settings.study.confidence, settings.evidence, settings.study.seed
    fleet = Asked.of(spells, fit, level=level, settings=keys, seed=seed)
    ask = fleet.interval
    lives = Quoter.of(spells, fit, settings)
    # where no shape is the best a prior would make up a sharp one
    ask_life = lives.interval if no_best_shape(spells) else ask
    hours = curve_hours(spells, settings)
    shares = sorted({0.01, 0.05, 0.10, round(1 - settings.targets.reliability, 6)})
    curves = {kind: fleet.curve(kind, hours) for kind in ("reliability", "hazard")}
    normal: tuple[Interval, ...] = ()
    if fit is not None:
        asked = [Quantity.shape(), Quantity.scale(), *(Quantity.life(p) for p in shares)]
        normal = tuple(band_normal(fit, q, level=level) for q in asked)
    return Sureness(
        choice=choose_method(spells, keys),
        level=level,
        shape=ask(Quantity.shape()) if fit is not None else None,
        scale=ask(Quantity.scale()) if fit is not None else None,
        lives=tuple(ask_life(Quantity.life(p)) for p in shares),
        reliability=curves["reliability"],
        hazard=curves["hazard"],
        conditional=chance_curve(lives, hours),
        normal_approximation=normal,
    )
