"""The forecast of engines drawn from a fleet of which more run than a forecast takes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fleetstats.chapters.ahead.failures_ahead import FALLBACK_H
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.forecast_values import Forecast
from fleetstats.core.units import text_number, text_percent
from fleetstats.core.value import Array
from fleetstats.spells.bulk.bulk_sample import Z_95
from fleetstats.spells.running import RunningEngine, ages_of, widths_of
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.change.evidence import Mixture
from fleetstats.survival.fit import Fit


def forecast_of_drawn(
    spells: Spells,
    fit: Fit | None,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    now: Mixture | None,
    *,
    of: int,
) -> Forecast | None:
    """Forecast engines drawn at random from a fleet, and say what that tells of the fleet.

    Parameters
    ----------
    spells, fit, settings, now
        As for `forecast_fleet`: laws of life are those of all lives.
    engines : tuple of RunningEngine
        Those drawn.
    of : int
        Engines that run.

    Returns
    -------
    Forecast or None
        Every figure is of the engines drawn; the sentence after the first gives the failures to
        expect of all, and how far the draw may have moved them.
    """
    found = forecast_fleet(spells, fit, engines, settings, now)
    if found is None or found.n_running == of:
        return found
    share = found.n_running / of
    error = error_of_draw(chances_of(fit, engines, settings), share)
    told = (
        f"Of {of:,} engines that run, {found.n_running:,} drawn by the digest of their ids (seed "
        f"{settings.study.seed}) are forecast; every count here is of these. Of all, "
        f"{text_number(found.failures.expected / share, digits=2)} failures are to be expected, "
        f"within {text_percent(error)} for the draw alone in 95 of 100 draws."
    )
    return replace(found, sentences=(found.sentences[0], told, *found.sentences[1:]))


def chances_of(
    fit: Fit | None, engines: tuple[RunningEngine, ...], settings: Settings
) -> Array:  # fmt: skip
    """Return (n,) chances of failing ahead by the fit, or in proportion to hours without one."""
    unknown = any(e.use_from == "none" for e in engines)
    hours = FALLBACK_H if unknown and settings.forecast.hours is None else settings.forecast.hours
    age, width = ages_of(engines), widths_of(engines, months=settings.forecast.months, hours=hours)
    if fit is None:
        return width
    return np.asarray(-np.expm1(fit.cumulative_hazard(age) - fit.cumulative_hazard(age + width)))


def error_of_draw(chance: Array, share: float) -> float:
    """Return how far, relatively, a sum over all lies from that of a draw in 95 of 100 draws.

    Parameters
    ----------
    chance : (n,) float
        What is summed, of each engine drawn.
    share : float
        Part of all engines that is drawn.

    Notes
    -----
    The standard error of a mean drawn without replacement (Cochran 1977, Sampling Techniques,
    chapter 2, from memory).
    """
    n, mean = len(chance), float(chance.mean())
    if n < 2 or mean <= 0.0:
        return 0.0
    return Z_95 * float(chance.std(ddof=1)) / mean * math.sqrt(max(1.0 - share, 0.0) / n)
