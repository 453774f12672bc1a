"""Cautions that take more than a comparison: stale readings, clocks, calendar, units, priors."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.advice.advice import Advice
from fleetstats.advice.carried import Weighing
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.in_use import is_few, prepare
from fleetstats.core.units import text_decided, text_percent, text_stated
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.asserted import LivesTold
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import (
    CALENDAR_YEARS,
    IDLE_H_PER_YEAR,
    LEAST_FOR_CALENDAR,
    PRIOR_LEFT,
    STALE_SHARE,
)
from fleetstats.vocabulary.wording import count, listed

UNITS_TRIED = 12
"""Engines left out one by one: those with most exposure past the claim."""

MOST_FOR_UNITS = 50_000
"""Lives above which no single engine can carry a verdict, so none is left out."""


def caution_stale(told: LivesTold, settings: Settings) -> list[Caution]:
    """Return the caution that many running engines were not read for long."""
    if settings.study.analysis_date is None or not told.n_dated:
        return []
    share = told.n_unread / told.n_running
    if share <= STALE_SHARE:
        return []
    return [
        caution(
            "stale-hours",
            value=f"{text_decided(share, STALE_SHARE)} of running engines unread for over "
            f"{settings.hours.stale_days} days",
            limit=text_percent(STALE_SHARE),
            share=text_decided(share, STALE_SHARE),
            days=settings.hours.stale_days,
        )
    ]


def caution_clocks(told: LivesTold, settings: Settings) -> list[Caution]:
    """Return the caution that hours come from more than one kind of meter."""
    kinds = told.meters
    if len(kinds) < 2:
        return []
    return [
        caution(
            "clock-mixed",
            value=f"{len(kinds)} kinds of meter",
            limit="1 kind of meter",
            kinds=listed(list(kinds)),
            standard=settings.hours.meter,
        )
    ]


def caution_calendar(rows: Sequence[LifeRow], settings: Settings) -> list[Caution]:
    """Return the caution that engines are old in years or mostly idle."""
    day = settings.study.analysis_date
    running = [r for r in rows if r.ending == "running" and r.in_service is not None]
    if day is None or len(running) < LEAST_FOR_CALENDAR:
        return []
    years = np.array([(day - r.in_service).days / 365.25 for r in running if r.in_service])
    hours = np.array([r.exit_h for r in running])
    age = float(np.median(years))
    use = float(np.median(hours / np.maximum(years, 0.1)))
    if age <= CALENDAR_YEARS and use >= IDLE_H_PER_YEAR:
        return []
    old = age > CALENDAR_YEARS
    return [
        caution(
            "calendar",
            value=f"median age {age:.0f} years" if old else f"median use {use:.0f} h per year",
            limit=f"{CALENDAR_YEARS:.0f} years" if old else f"{IDLE_H_PER_YEAR:.0f} h per year",
        )
    ]


def caution_prior(spells: Spells, fit: Fit | None, settings: Settings) -> list[Caution]:
    """Return the caution that the shape's prior, not the records, drives the bound."""
    if not is_few(spells, fit):
        return []
    mixture = prepare(spells, fit, settings, method="shape-mixture").mixture
    left = 1.0 if mixture is None else float(mixture.prior_driven[0])
    if left <= PRIOR_LEFT:
        return []
    part = text_decided(100.0 * min(left, 1.0), 100.0 * PRIOR_LEFT, unit="", digits=2)
    return [
        caution(
            "prior-driven",
            value=f"{part} % of the prior's spread left",
            limit=text_stated(PRIOR_LEFT),
            source=settings.evidence.prior_source,
        )
    ]


def caution_one_unit(spells: Spells, settings: Settings, advice: Advice) -> list[Caution]:
    """Return the caution that one engine, source or build carries the verdict.

    Each source and build is left out in turn, and each of the engines with most exposure past the
    claim; each engine that failed too, while failures are few. That the verdict turns is not
    enough: it must move more than chance explains (`advice/carried.py`).
    """
    verdict = advice.verdict
    if verdict is None or verdict.word not in ("supported", "contradicted"):
        return []
    claim, target = verdict.claimed_h, 1.0 - verdict.accepted_failure
    weighed = Weighing.of(spells, try_fit(spells), settings)

    def same(part: Spells) -> bool:
        if not len(part):
            return False
        return judge_claim(Quoter.of(part, try_fit(part), settings), claim, target).word == (
            verdict.word
        )

    turned = []
    for column in ("source", "build"):
        labels = getattr(spells, column)
        names = np.unique(labels)
        if len(names) > 1:
            turned += [
                f"{column} {name or 'not stated'}"
                for name in names
                if not same(spells.of_group(column, name, others=True))
                and weighed.carries(column, name, tried=len(names))
            ]
    if len(spells) > MOST_FOR_UNITS:
        return _turning(turned)
    past = spells.weight * np.maximum(spells.exit_lower - np.maximum(spells.entry, claim), 0.0)
    one = spells.weight <= 1.0  # a row that stands for many engines is no engine to leave out
    first = np.argsort(np.where(one, past, -1.0), kind="stable")[::-1][:UNITS_TRIED]
    failed = np.flatnonzero(spells.failed)[:UNITS_TRIED]
    for unit in dict.fromkeys(str(spells.unit[i]) for i in (*first, *failed) if one[i]):
        if weighed.carries("unit", unit) and not same(spells.of_group("unit", unit, others=True)):
            turned.append(f"engine {unit}")
    return _turning(turned)


def _turning(turned: list[str]) -> list[Caution]:
    if not turned:
        return []
    return [
        caution(
            "one-unit/verdict",
            value=count(len(turned), "single source, build or engine", "sources, builds, engines"),
            limit="0",
            what=listed(turned[:3]),
            is_are="is" if len(turned) == 1 else "are",
            each="" if len(turned) == 1 else ", each by itself",
        )
    ]
