"""What is coming for the fleet: failures, removals, spares, money, and when to worry."""

from __future__ import annotations

import dataclasses

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.failures_ahead import failures_ahead
from fleetstats.chapters.ahead.forecast_change import now_words, tell_now
from fleetstats.chapters.ahead.forecast_reserve import reserve_for
from fleetstats.chapters.ahead.forecast_values import (
    CountForecast,
    Forecast,
    Season,
    Spares,
)
from fleetstats.chapters.ahead.forecast_words import forecast_sentences
from fleetstats.chapters.ahead.season_paths import season_paths
from fleetstats.chapters.curve_fit import caution_curve
from fleetstats.core.gate import gate
from fleetstats.core.seeds import stream
from fleetstats.core.units import text_percent
from fleetstats.core.value import Array
from fleetstats.spells.event import Event
from fleetstats.spells.running import RunningEngine, ages_of, widths_of
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.change.evidence import Mixture
from fleetstats.survival.counting.count_law import (
    CountLaw,
    negative_binomial_law,
    poisson_binomial,
    poisson_law,
)
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import BEYOND_SHARE, FEW_FOR_WEIGHTS, STALE_SHARE
from fleetstats.vocabulary.wording import count

SPARE_LEVELS = (0.5, 0.8, 0.9, 0.95, 0.99)


@gate(spells=LIVES, fit=FIT.or_none, settings=SETTINGS)
def forecast_fleet(
    spells: Spells,
    fit: Fit | None,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    now: Mixture | None = None,
) -> Forecast | None:
    """Forecast failures and removals, with intervals that carry parameter and counting doubt.

    No engine is replaced, and no new engine joins, within the forecast.

    Parameters
    ----------
    spells : Spells
        The lives behind the forecast.
    fit : Fit or None
        Their Weibull fit; used for the plug-in interval that is shown to warn.
    engines : tuple of RunningEngine
        Engines in service.
    settings : Settings
        Tables study, forecast, cost, evidence.
    now : Mixture, optional
        What the rate is now over what all years show; see `chapters/change`.

    Returns
    -------
    Forecast or None
        None where no engine runs.

    Raises
    ------
    FitError
        If more engines run than the forecast takes.

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapter 12; Hong,
    Meeker & McCalley (2009), Annals of Applied Statistics 3, 857-879 (both from memory).

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> engines = tuple(
    ...     fs.RunningEngine(
    ...         engine=f"E{k}",
    ...         source="",
    ...         build="",
    ...         age_h=100.0 * k,
    ...         use_h=90,
    ...         use_from="own",
    ...         read_on="2026-05-01",
    ...         stale=False,
    ...     )
    ...     for k in range(1, 10)
    ... )
    >>> ahead = fs.forecast_fleet(lives, fs.fit_weibull(lives), engines, fs.Settings())
    >>> print(ahead)
    Forecast for the next 12 months, each engine at its own rate of use
    In the next 12 months, each engine at its own rate of use (810 h for 9 running ...
    When to worry: at 2 failures or more by the end, or above the monthly line before. If ...
    No spare engines would suffice with a chance of 90 %, if a removed engine is back ...
    No reserve is computed: the study does not state what a failure costs beside a ...
    Parameters and chance are both in these intervals: 10 failures; engines reweighted at ...
    """
    if not engines:
        return None
    keys, level = settings.forecast, settings.study.confidence
    seen = failures_ahead(spells, engines, settings, now)
    engines, hours, draws, age, width = seen.engines, seen.hours, seen.draws, seen.age, seen.width
    p_fail, failures = seen.p_fail, seen.failures
    planned = keys.planned_overhaul_h or settings.study.claimed_interval_h
    due = _due(draws, age, width, planned)
    found = _findings(spells, width, level)
    both = CountLaw.of_draws(_either(p_fail, age, width, planned))
    removals = both if found is None else both.plus(found.law)
    horizon = spells.horizon_h(least=settings.evidence.min_at_risk)
    beyond, expected = age + width > horizon, p_fail.mean(axis=0)
    season = None if hours is not None else _season(draws, age, width, expected, settings)
    reserve, no_reserve = reserve_for(draws, age, width, planned, found, settings)
    out = Forecast(
        span=_span(hours, keys.months),
        sentences=(),
        level=level,
        n_running=len(age),
        n_failed_seen=spells.n_failed,
        fleet_hours=float(width.sum()),
        method=draws.method,
        why=draws.why,
        failures=failures,
        removals=CountForecast.of("removals", removals, level),
        overhauls=None if due is None else CountForecast.of("planned overhauls", due, level),
        findings=found,
        past_planned=0 if planned is None else int((age >= planned).sum()),
        planned_h=planned,
        beyond=int(beyond.sum()),
        share_beyond=_share_beyond(draws, expected, age, width, horizon),
        horizon_h=horizon,
        n_stale=int(sum(e.count for e in engines if e.stale)),
        n_between=int(sum(e.count for e in engines if e.age_high_h is not None)),
        n_use_assumed=int(sum(e.count for e in engines if e.use_from != "own")),
        season=season,
        spares=_spares(draws, spells, engines, hours, planned, settings),
        reserve=reserve,
        no_reserve=no_reserve,
        plug_in=_plug_in(fit, age, width, level),
        n_builds=len({b for b in np.unique(spells.build) if b}),
        cautions=_cautions(spells, fit, settings, expected, beyond, horizon, engines, draws),
        rate_now=now_words(now),
    )
    return dataclasses.replace(out, sentences=tell_now(forecast_sentences(out), out.rate_now))


def _span(hours: float | None, months: float) -> str:
    if hours is not None:
        return f"the next {hours:,.0f} h of each engine"
    return f"the next {months:g} months, each engine at its own rate of use"


def _due(draws: LifeCurves, age: Array, width: Array, planned: float | None) -> CountLaw | None:
    """Law of engines that reach the planned hours unfailed; None where none is stated."""
    if planned is None:
        return None
    gap = planned - age
    p = np.where((gap > 0.0) & (gap <= width), 1.0, 0.0)
    p = p * (1.0 - draws.conditional_failure(age, np.maximum(gap, 0.0)))
    return CountLaw.of_draws(p)


def _either(p_fail: Array, age: Array, width: Array, planned: float | None) -> Array:
    """Chance that an engine fails or reaches its planned overhaul, (B, n)."""
    if planned is None:
        return p_fail
    gap = planned - age
    return np.where((gap > 0.0) & (gap <= width), 1.0, p_fail)


def _findings(spells: Spells, width: Array, level: float) -> CountForecast | None:
    """Removals on a finding at the pace seen: a Poisson count whose rate is a gamma.

    With n seen in the exposure E the rate is gamma(n + 1/2) / E (Jeffreys), so the count to come
    is negative binomial.
    """
    n = float(spells.weight[spells.event == Event.FINDING].sum())
    if n == 0.0:
        return None
    law = negative_binomial_law(n + 0.5, float(width.sum()) / spells.exposure_h)
    return CountForecast.of("removals because of a finding", law, level)


def _share_beyond(
    draws: LifeCurves, expected: Array, age: Array, width: Array, horizon: float
) -> float:
    """Share of the failures expected of each engine that falls past the horizon."""
    inside = np.clip(horizon - age, 0.0, width)
    total = float(expected.sum())
    near = float(draws.conditional_failure(age, inside).mean(axis=0).sum())
    return 0.0 if total <= 0.0 else float(np.clip(1.0 - near / total, 0.0, 1.0))


def _season(draws: LifeCurves, age: Array, width: Array, due: Array, settings: Settings) -> Season:
    """Cumulative failures month by month; the alert level is set over all looks together."""
    months = max(1, round(settings.forecast.months))
    at = np.arange(1, months + 1) * settings.forecast.months / months
    share = at / settings.forecast.months
    paths = season_paths(draws, age, width, share, stream(settings.study.seed, "forecast-season"))
    level, asked = settings.study.confidence, settings.forecast.false_alarm
    tail = (1.0 - level) / 2.0
    edges = [_quantile(paths[:, j], q) for q in (tail, 1.0 - tail) for j in range(months)]
    alert, held = _alert(paths, asked)
    # The mean over paths is scaled to the expected count itself, so that the last month is the
    # season's: simulation leaves about one in a hundred of it.
    expected = paths.mean(axis=0)
    if expected[-1] > 0.0:
        expected = expected * (float(due.sum()) / expected[-1])
    return Season(
        month=at,
        expected=expected,
        low=np.array(edges[:months]),
        high=np.array(edges[months:]),
        alert=alert,
        false_alarm=asked,
        false_alarm_held=held,
    )


def _quantile(counts: Array, q: float) -> float:
    return float(np.quantile(counts, q, method="inverted_cdf"))


def _alert(paths: Array, asked: float) -> tuple[Array, float]:
    """Least boundary, one quantile at each look, that is reached in at most `asked` of seasons."""
    for single in np.geomspace(asked, asked / 50.0, 25):
        bound = np.array([_quantile(c, 1.0 - single) + 1 for c in paths.T], dtype=np.int64)
        held = float((paths >= bound).any(axis=1).mean())
        if held <= asked:
            return bound, held
    bound = paths.max(axis=0) + 1
    return bound, 0.0


def _spares(
    draws: LifeCurves,
    spells: Spells,
    engines: tuple[RunningEngine, ...],
    hours: float | None,
    planned: float | None,
    settings: Settings,
) -> Spares | None:
    """Removals within one repair time: as many engines are away at once, if the pace is even."""
    if hours is not None:
        return None
    keys = settings.forecast
    age, width = ages_of(engines), widths_of(engines, months=keys.repair_months, hours=None)
    # Due dates are known beforehand and can be spread, so only their mean pace is added.
    law = CountLaw.of_draws(draws.conditional_failure(age, width))
    found = _findings(spells, width, settings.study.confidence)
    if found is not None:
        law = law.plus(found.law)
    if planned is not None:
        due = _due(draws, age, widths_of(engines, months=keys.months, hours=None), planned)
        assert due is not None
        mean = due.mean * keys.repair_months / keys.months
        law = law.plus(poisson_law(mean))
    return Spares(
        repair_months=keys.repair_months,
        levels=SPARE_LEVELS,
        needed=tuple(law.quantile(q) for q in SPARE_LEVELS),
        stated=keys.service_level,
        at_stated=law.quantile(keys.service_level),
    )


def _plug_in(fit: Fit | None, age: Array, width: Array, level: float) -> tuple[int, int] | None:
    if fit is None or fit.family != "weibull":
        return None
    rise = fit.cumulative_hazard(age + width) - fit.cumulative_hazard(age)
    return CountLaw(probability=poisson_binomial(-np.expm1(-rise))).interval(level)


def _cautions(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    expected: Array,
    beyond: Array,
    horizon: float,
    engines: tuple[RunningEngine, ...],
    draws: LifeCurves,
) -> tuple[Caution, ...]:
    out = list(caution_curve(fit, settings, ahead=True))
    share = float(expected[beyond].sum() / expected.sum()) if expected.sum() > 0 else 0.0
    if share > BEYOND_SHARE:
        out.append(
            caution(
                "past-support/forecast",
                value=f"engines that bring {100 * share:.0f} % of the expected failures",
                limit=f"evidence to {horizon:,.0f} h",
            )
        )
    if draws.method == "shape-mixture":
        out.append(
            caution(
                "prior-driven/forecast",
                value=count(spells.n_failed, "failure"),
                limit=f"{FEW_FOR_WEIGHTS:g}",
            )
        )
    stale = sum(e.count for e in engines if e.stale)
    total = sum(e.count for e in engines)
    if stale > STALE_SHARE * total:
        out.append(
            caution(
                "stale-hours/forecast",
                value=f"{stale} of {total} engines",
                limit=text_percent(STALE_SHARE),
            )
        )
    return tuple(out)
