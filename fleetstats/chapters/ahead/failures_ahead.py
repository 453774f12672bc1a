"""The failures to come, and the laws of life that every figure ahead is worked out from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleetstats.bands.averaged.average import draw_any_lives
from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.forecast_change import at_rate_now
from fleetstats.chapters.ahead.forecast_values import CountForecast
from fleetstats.chapters.ahead.told_between import at_worse_edge, upper_edges
from fleetstats.core.value import Array
from fleetstats.spells.running import RunningEngine, ages_of, refuse_too_many, widths_of
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.change.evidence import Mixture
from fleetstats.survival.counting.count_law import CountLaw

FALLBACK_H = 100.0
"""Hours forecast for each engine where neither dates nor settings give a rate of use."""
MOST_DRAWS_H = 4_000_000
"""Draws times engines that the exact law is computed for; more engines get fewer draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailuresAhead:
    """The failures to come, and the engines, hours and laws of life that they come from.

    `p_fail` (B, n) are the chances of failing, of engines of ages `age` (n,) in hours under each
    law, within the hours `width` (n,) that each runs.
    """

    engines: tuple[RunningEngine, ...]
    hours: float | None
    draws: LifeCurves
    age: Array
    width: Array
    p_fail: Array
    failures: CountForecast


def failures_ahead(
    spells: Spells,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    now: Mixture | None = None,
) -> FailuresAhead:
    """Forecast the failures of engines in service; arguments as of `forecast_fleet`."""
    refuse_too_many(engines)
    keys = settings.forecast
    hours = _hours_ahead(engines, keys.hours)
    width = widths_of(engines, months=keys.months, hours=hours)
    top = np.repeat(upper_edges(engines), [e.count for e in engines])
    draws = at_rate_now(draw_for_forecast(spells, settings, top, width), now)
    once = tuple(replace(e, count=1) if e.count != 1 else e for e in engines)
    engines = at_worse_edge(engines, draws, widths_of(once, months=keys.months, hours=hours))
    age = ages_of(engines)
    p_fail = draws.conditional_failure(age, width)
    law = CountLaw.of_draws(p_fail)
    return FailuresAhead(
        engines=engines,
        hours=hours,
        draws=draws,
        age=age,
        width=width,
        p_fail=p_fail,
        failures=CountForecast.of("failures", law, settings.study.confidence),
    )


def _hours_ahead(engines: tuple[RunningEngine, ...], hours: float | None) -> float | None:
    """Return the hours that each engine is looked ahead; None where its own use says them."""
    unknown = hours is None and any(e.use_from == "none" for e in engines)
    return FALLBACK_H if unknown else hours


def draw_for_forecast(
    spells: Spells, settings: Settings, age_h: Array, width_h: Array
) -> LifeCurves:
    """Return the laws of life behind a forecast for engines (n,): the same ones for one study."""
    n = draws_for(len(age_h), settings)
    return draws_ahead(spells, settings, n, top_h=float((age_h + width_h).max()))


def draws_for(engines: int, settings: Settings) -> int:
    """Return how many draws a forecast for so many engines takes."""
    return int(np.clip(MOST_DRAWS_H // max(1, engines), 200, settings.forecast.draws))


def draws_ahead(spells: Spells, settings: Settings, n: int, *, top_h: float) -> LifeCurves:
    """Return the draws that every figure ahead is worked out from, to ages up to `top_h` hours.

    This is the one place for what changes the hazard from today on: `LifeCurves.times` multiplies
    it for forecast, season, spares, reserve and outlook alike.
    """
    return draw_any_lives(spells, settings.evidence, n, seed=settings.study.seed, top_h=top_h)
