"""Leak-down trends: what each cylinder does beyond the tester, the day and one odd reading."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.trends.leakdown_runs import (
    CylinderRun,
    deficit_spread,
    deficits_of,
    find_runs,
    last_repairs,
    limit_of,
    scaled,
    signs_of,
)
from fleetstats.chapters.trends.oil_signs import read_oil
from fleetstats.chapters.trends.plug_signs import read_plugs
from fleetstats.chapters.trends.values import CylinderTrend, Trends
from fleetstats.chapters.trends.words import trend_sentences
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.condition.leakdown import LeakRow
from fleetstats.study.settings import Settings
from fleetstats.survival.regression.mixed_trend import (
    Prediction,
    Readings,
    TrendFit,
    fit_mixed_trend,
)
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.ids import id_order, normalise_id

_NONE = np.zeros(0)
SEARCHED_H = 2_000.0
"""Further hours within which a crossing of the limit is looked for."""


def read_trends(
    leakdown: Sequence[LeakRow],
    checks: Sequence[CheckRow],
    settings: Settings,
    running: Collection[str] | None = None,
) -> Trends | None:
    """Trend leak-down readings per cylinder, metal on the plug and oil use.

    Parameters
    ----------
    leakdown : sequence of LeakRow
        Readings; those that a retest replaced are kept out of the trend and counted.
    checks : sequence of CheckRow
        Checks, of which grades of metal and oil use are read here.
    settings : Settings
        Tables leakdown, check and study.
    running : collection of str, optional
        Ids of the engines in service, in the form in which engines are compared. Readings of
        others help to tell noise from trend, but only these engines are listed; None lists all.

    Returns
    -------
    Trends or None
        None where there is nothing to trend.
    """
    keys, level = settings.leakdown, settings.study.confidence
    plugs, n_plug = read_plugs(checks)
    oils, n_oil = read_oil(checks, level=level, min_readings=keys.min_readings)

    def listed(engine: str) -> bool:
        return running is None or normalise_id(engine) in running

    if not leakdown and not n_plug and not n_oil:
        return None
    runs = find_runs(leakdown, settings)
    fit, segments = _fit(runs, settings)
    spread = deficit_spread(runs, settings)
    cylinders = []
    repaired = last_repairs(runs)
    for i, run in enumerate(runs):
        if run.since_h < repaired[run.engine, run.cylinder] or not listed(run.engine):
            continue
        cylinders.append(_trend(run, segments.get(i), fit, spread, runs, settings))
    cylinders.sort(key=lambda c: (*c.urgency, id_order(c.engine), c.cylinder))
    fall = None
    if fit is not None:
        z = _normal(level)
        s, se = -100.0 * float(fit.fixed[1]), 100.0 * float(fit.fixed_se[1])
        fall = Interval(
            name="mean fall per 100 h",
            estimate=s,
            low=s - z * se,
            high=s + z * se,
            level=level,
            method="restricted likelihood",
            unit=keys.unit,
        )
    out = Trends(
        cylinders=tuple(cylinders),
        sentences=(),
        level=level,
        unit=keys.unit,
        supply=keys.supply,
        min_readings=keys.min_readings,
        n_readings=len(leakdown),
        n_replaced=sum(r.replaced_by is not None for r in leakdown),
        noise={} if fit is None else {k: v for k, v in fit.sd.items() if k != "slope"},
        fleet_fall_per_100_h=fall,
        plugs=tuple(p for p in plugs if listed(p.engine)),
        n_plug=n_plug,
        oils=tuple(o for o in oils if listed(o.engine)),
        n_oil=n_oil,
        cautions=_cautions(cylinders, settings),
    )
    import dataclasses

    return dataclasses.replace(out, sentences=trend_sentences(out))


def _fit(runs: list[CylinderRun], settings: Settings) -> tuple[TrendFit | None, dict[int, int]]:
    """Fit all runs together; None where there is too little to tell a trend from noise."""
    engines = {e: i for i, e in enumerate(sorted({r.engine for r in runs}))}
    checks: dict[tuple[str, float], int] = {}
    columns: list[tuple[float, float, int, int, int, bool]] = []
    for i, run in enumerate(runs):
        for r in run.rows:
            check = checks.setdefault((run.engine, r.hours_h), len(checks))
            columns.append(
                (
                    scaled(r, settings),
                    r.hours_h - run.since_h,
                    engines[run.engine],
                    i,
                    check,
                    r.temperature == "cold",
                )
            )
    if not columns:
        return None, {}
    value, hours, engine, segment, check_no, cold = (
        np.array(c) for c in zip(*columns, strict=True)
    )
    try:
        fit = fit_mixed_trend(
            Readings(
                value=value,
                hours=hours,
                engine=engine,
                segment=segment,
                check=check_no,
                cold=cold,
            ),
            check_share=len(checks) < len(columns),
        )
    except FitError:
        return None, {}
    return fit, {i: i for i in range(len(runs))}


@dataclass(frozen=True)
class _Fitted:
    """What the fit says of one cylinder; only the state where it says nothing."""

    state: str
    fall_per_100_h: Interval | None = None
    chance_below: float | None = None
    to_limit_h: Interval | None = None
    lines: tuple[Array, Array, Array, Array] = (_NONE, _NONE, _NONE, _NONE)
    """Hours; level, low and high at them."""


def _trend(
    run: CylinderRun,
    segment: int | None,
    fit: TrendFit | None,
    spread: tuple[float, float],
    runs: list[CylinderRun],
    settings: Settings,
) -> CylinderTrend:
    keys = settings.leakdown
    hours = np.array([r.hours_h for r in run.rows])
    reading = np.array([scaled(r, settings) for r in run.rows])
    limits = [limit_of(r, settings) for r in run.rows]
    last = run.rows[-1]
    next_h = last.hours_h + settings.check.interval_h
    n_checks = len(np.unique(hours))
    deficits = deficits_of(run, runs, settings)
    ok = np.ones(len(hours), dtype=bool)
    said = _Fitted(state="mended" if run.mended else "too-few")
    if fit is not None and segment is not None:
        mine = fit.readings.segment == segment
        ok = np.abs(fit.residual[mine]) <= keys.step_sd * fit.sd["noise"]
        if n_checks >= keys.min_readings and not run.mended:
            said = _fitted(run, segment, fit, float(hours[0]), next_h, limits[-1][0], settings)
    signs, look_first = signs_of(run, reading, limits, deficits, spread, ok, settings)
    if run.mended:
        signs, look_first = (), False
    return CylinderTrend(
        engine=run.engine,
        cylinder=run.cylinder,
        state=said.state,
        since_h=run.since_h,
        n_checks=n_checks,
        last_h=last.hours_h,
        last=float(reading[-1]),
        limit=limits[-1][0],
        limit_from=limits[-1][1],
        fall_per_100_h=said.fall_per_100_h,
        chance_below=said.chance_below,
        next_h=next_h,
        to_limit_h=said.to_limit_h,
        deficit=float(deficits[-1]),
        signs=signs,
        look_first=look_first,
        hours=hours,
        reading=reading,
        ok=ok,
        line_h=said.lines[0],
        line=said.lines[1],
        line_low=said.lines[2],
        line_high=said.lines[3],
        earlier_h=np.array([r.hours_h for r in run.earlier]),
        earlier=np.array([scaled(r, settings) for r in run.earlier]),
    )


def _fitted(
    run: CylinderRun,
    segment: int,
    fit: TrendFit,
    first_h: float,
    next_h: float,
    limit: float,
    settings: Settings,
) -> _Fitted:
    """Return what the fit says of a cylinder with enough checks, from its first to its next."""
    keys, level = settings.leakdown, settings.study.confidence
    z = _normal(level)
    ahead = fit.predict(segment, next_h - run.since_h)
    least = -100.0 * (ahead.slope + z * ahead.slope_sd)
    line_h = np.linspace(first_h, next_h, 24)
    return _Fitted(
        state="faster" if least > -100.0 * float(fit.fixed[1]) else "as-the-fleet",
        fall_per_100_h=Interval(
            name="fall per 100 h",
            estimate=-100.0 * ahead.slope,
            low=least,
            high=-100.0 * (ahead.slope - z * ahead.slope_sd),
            level=level,
            method="mixed model",
            unit=keys.unit,
        ),
        chance_below=float(ahead.chance_below(limit)[0]),
        to_limit_h=_to_limit(fit, segment, run.rows[-1].hours_h - run.since_h, limit, level),
        lines=(line_h, *_lines(fit, segment, line_h - run.since_h, level, keys.supply)),
    )


def _lines(
    fit: TrendFit, segment: int, hours: Array, level: float, supply: float
) -> tuple[Array, Array, Array]:
    z = _normal(level)
    p = fit.predict(segment, hours)
    # A t noise of 4 degrees of freedom has twice the variance of its scale squared.
    sd = np.hypot(p.reading_sd, math.sqrt(2.0) * p.noise)
    return p.level, p.level - z * sd, np.minimum(p.level + z * sd, supply)


def _to_limit(fit: TrendFit, segment: int, now: float, limit: float, level: float) -> Interval:
    """Further hours until the level is at the limit: when the chance of that passes each edge."""
    steps = np.concatenate([[0.0], np.geomspace(5.0, SEARCHED_H, 60)])
    chance = np.maximum.accumulate(_level_below(fit.predict(segment, now + steps), limit))
    tail = (1.0 - level) / 2.0

    def when(q: float) -> float | None:
        j = int(np.argmax(chance >= q))
        if chance[j] < q:
            return None
        if j == 0:
            return 0.0
        w = (q - chance[j - 1]) / (chance[j] - chance[j - 1])
        return float(steps[j - 1] + w * (steps[j] - steps[j - 1]))

    low, mid, high = when(tail), when(0.5), when(1.0 - tail)
    beyond = f"not within {SEARCHED_H:,.0f} h"
    return Interval(
        name="hours until the level is at the limit",
        estimate=mid,
        low=low,
        high=high,
        level=level,
        method="mixed model",
        unit="h",
        note_low=beyond if low is None else "",
        note_high=beyond if high is None else "",
    )


def _level_below(p: Prediction, limit: float) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr((limit - p.level) / p.level_sd))


def _normal(level: float) -> float:
    from scipy.special import ndtri

    return float(ndtri((1.0 + level) / 2.0))


def _cautions(cylinders: list[CylinderTrend], settings: Settings) -> tuple[Caution, ...]:
    if not any(c.limit_from == "default" for c in cylinders):
        return ()
    keys = settings.leakdown
    return (
        caution(
            "limit-source",
            value=f"{(1 - keys.loss_limit) * keys.supply:g} of {keys.supply:g} {keys.unit}",
            limit="maker's limit not stated",
        ),
    )
