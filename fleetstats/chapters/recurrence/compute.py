"""The chapter on recurrent events: how many to expect, what they cost, whether they crowd."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.recurrence.ahead import CountAhead, predict_count
from fleetstats.chapters.recurrence.values import BuildCount, KindLine, Recurrence
from fleetstats.chapters.recurrence.words import recurrence_sentence
from fleetstats.core.errors import FitError
from fleetstats.spells.histories import Histories
from fleetstats.study.settings import Settings
from fleetstats.survival.recurrent.power_law import fit_power_law
from fleetstats.survival.recurrent.recurrent import (
    MeanCumulative,
    estimate_mean_cumulative,
    worst_engines,
)
from fleetstats.survival.recurrent.trend import estimate_trend
from fleetstats.vocabulary.limits import FEWEST_EVENTS

ALL = "all events"


def rate_per_1000_h(histories: Histories, level: float) -> Interval:
    """Return events per 1,000 engine hours with robust limits on the log scale.

    The variance adds the squares of each engine's events less its share, engines as units (the
    ratio estimator; Cochran 1977, Sampling Techniques, section 6.4). Without events the upper
    limit is the exact Poisson one.
    """
    from scipy import special

    names, place = np.unique(histories.unit, return_inverse=True)
    hours = np.bincount(place, weights=histories.end_h - histories.start_h)
    count = np.bincount(np.searchsorted(names, histories.event_unit), minlength=len(names))
    total, n = float(hours.sum()), int(count.sum())
    if n == 0:
        high = -np.log(0.5 * (1.0 - level)) / total
        return Interval(
            name="events per 1,000 h",
            estimate=0.0,
            low=0.0,
            high=1000.0 * float(high),
            level=level,
            method="exact Poisson",
            unit="",
            note_low="no events seen",
        )
    rate = n / total
    spread = float(np.sqrt(np.square(count - rate * hours).sum())) / total
    half = float(special.ndtri(0.5 + 0.5 * level)) * spread / rate
    return Interval(
        name="events per 1,000 h",
        estimate=1000.0 * rate,
        low=1000.0 * rate * float(np.exp(-half)),
        high=1000.0 * rate * float(np.exp(half)),
        level=level,
        method="robust",
        unit="",
    )


def advise_recurrence(
    histories: Histories | None, settings: Settings, *, hours_ahead: float | None = None
) -> Recurrence | None:
    """Return the chapter on recurrent events; None without histories or without any event.

    Parameters
    ----------
    histories : Histories or None
        Stretches watched and the events in them.
    settings : Settings
        Confidence, least number at risk, seed, currency.
    hours_ahead : float, optional
        Engine hours over the forecast's months; without them nothing is said of what is to come.
    """
    if histories is None or not len(histories.event_h):
        return None
    kinds, size = np.unique(histories.event_kind, return_counts=True)
    parts = [(ALL, histories)]
    if len(kinds) > 1:
        order = np.argsort(-size, kind="stable")
        parts += [(str(k), histories.of_kind(str(k))) for k in kinds[order]]
    lines = tuple(_line(kind, part, settings) for kind, part in parts)
    unit = "life" if settings.hours.basis == "since-overhaul" else "engine"
    names = [b for b in np.unique(histories.build).tolist() if b]
    builds: tuple[BuildCount, ...] = ()
    if len(names) > 1:
        builds = tuple(
            BuildCount(build=b, count=_count(histories.select(histories.build == b), settings))
            for b in names
        )
    return Recurrence(
        lines=lines,
        builds=builds,
        worst=worst_engines(histories),
        n_units=len(np.unique(histories.unit)),
        exposure_h=histories.exposure_h,
        currency=settings.cost.currency,
        sentence=recurrence_sentence(lines[0], histories, unit),
        unit=unit,
        cautions=lines[0].count.cautions,
        ahead=_ahead(parts, settings, hours_ahead),
    )


def _ahead(
    parts: list[tuple[str, Histories]], settings: Settings, hours: float | None
) -> tuple[CountAhead, ...]:
    if hours is None:
        return ()
    found = (
        predict_count(part, hours, kind=kind, months=settings.forecast.months,
                      level=settings.study.confidence)
        for kind, part in parts
    )  # fmt: skip
    return tuple(a for a in found if a is not None)


def _count(histories: Histories, settings: Settings, of: str = "count") -> MeanCumulative:
    return estimate_mean_cumulative(
        histories,
        level=settings.study.confidence,
        of=of,
        min_at_risk=settings.evidence.min_at_risk,
    )


def _line(kind: str, part: Histories, settings: Settings) -> KindLine:
    law = trend = None
    no_pace = f"fewer than {FEWEST_EVENTS} events"
    if len(part.event_h) >= FEWEST_EVENTS:
        try:
            trend = estimate_trend(part)
            law = fit_power_law(part, level=settings.study.confidence, seed=settings.study.seed)
            no_pace = ""
        except FitError:
            trend = None
            no_pace = "each event ended its engine's watch"
        if trend is not None and trend.direction == "too-few":
            law = trend = None
            no_pace = f"fewer than {FEWEST_EVENTS} events before the end of a watch"
    priced = len(part.event_h) > 0 and bool((part.event_cost != 1.0).any())
    return KindLine(
        kind=kind,
        n_events=len(part.event_h),
        n_engines=len(np.unique(part.event_unit)),
        per_1000_h=rate_per_1000_h(part, settings.study.confidence),
        count=_count(part, settings),
        cost=_count(part, settings, "cost") if priced else None,
        law=law,
        trend=trend,
        no_pace=no_pace,
    )
