"""Last year graded: what its forecast, alert line, stop rule and advice said, and what came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.ahead import CountForecast, Forecast, forecast_fleet
from fleetstats.chapters.change import mix_on
from fleetstats.chapters.decision import StopChance, add_months, stop_chance
from fleetstats.core.errors import FleetstatsError
from fleetstats.core.value import Value, value
from fleetstats.records.clocks.usage import DAYS_PER_MONTH
from fleetstats.records.life import LifeRow
from fleetstats.spells.build import Built
from fleetstats.spells.event import Event
from fleetstats.spells.running import find_running
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

NEAR_MONTHS = 0.75
"""Months by which the time that passed may differ from the forecast's for it to be graded as it
stood in the report."""


@value
class NewFailure(Value):
    """A failure in question of the later records that the earlier ones did not hold.

    Parameters
    ----------
    engine, cause : str
        Whose, and from what.
    hours : float
        Hours at the failure, on the study's clock.
    day : str
        Its date, blank where none is told.
    ran_then : bool
        Whether the engine ran in the earlier records, so that the forecast covers it.
    late : bool
        Whether it had failed by the date of the earlier records, and was told later.
    counts_for_stop : bool
        Whether the stop rule counts it: below its hours, or from a cause that checks cannot see.
    """

    engine: str
    cause: str
    hours: float
    day: str
    ran_then: bool
    late: bool
    counts_for_stop: bool


@value
class StopGrade(Value):
    """The earlier stop rule beside what came.

    Parameters
    ----------
    failures : int
        Failures at which it ends the advice.
    below_h : float or None
        Hours below which it counts; causes that the checks cannot see count at any age.
    counted : int
        Failures that it counts.
    engine, day : str
        The engine whose failure reached it and the date, blank where not told; both blank where it
        was not reached.
    asked : StopChance or None
        How the earlier forecast saw it.
    """

    failures: int
    below_h: float | None
    counted: int
    engine: str
    day: str
    asked: StopChance | None


@value
class BandGrade(Value):
    """Where the new failures lay in the earlier overhaul band.

    Parameters
    ----------
    state : str
        The band's.
    plan_from_h, not_beyond_h : float or None
        Its ends.
    below, within, past : int
        New failures before it, within it, past it.
    passed : int
        Engines that ran past its start since and did not fail.
    """

    state: str
    plan_from_h: float | None
    not_beyond_h: float | None
    below: int
    within: int
    past: int
    passed: int


@value
class Grade(Value):
    """The earlier study's forecast and rules beside what came.

    Parameters
    ----------
    then : str
        Date of the earlier records.
    months : float
        Months between the dates of the two studies.
    as_printed : bool
        Whether the forecast is that of the earlier report, not one for the months that passed.
    forecast : CountForecast
        Failures among engines then running.
    n_running, n_gone : int
        Engines then running; those of them that the later records do not hold.
    came : int
        Engines then running that failed since.
    verdict : str
        ``"inside"`` the interval, ``"fewer"`` or ``"more"``.
    chance : float
        Chance of a count at least as far out on that side, if the forecast was right.
    hours_ahead, hours_flown : float
        Hours that the forecast took those engines to fly, and that they flew.
    alert : int or None
        Count of the alert line at the end; None where there is no line.
    alert_on : str
        Date on which the line was reached, "by the end" where no date says when, blank where not.
    false_alarm : float
        Chance of reaching that line if nothing has changed.
    stop, band : StopGrade, BandGrade
        Stop rule and advice.
    failures : tuple of NewFailure
        Every new failure, dated ones first.
    """

    then: str
    months: float
    as_printed: bool
    forecast: CountForecast
    n_running: int
    n_gone: int
    came: int
    verdict: str
    chance: float
    hours_ahead: float
    hours_flown: float
    alert: int | None
    alert_on: str
    false_alarm: float
    stop: StopGrade
    band: BandGrade
    failures: tuple[NewFailure, ...]


def grade_last_year(
    old: Study, was: Built, fit: Fit | None, new: Built, until: dt.date | None, advice: AdviceFigure
) -> Grade | None:
    """Return what became of the earlier study's forecast, alert line, stop rule and advice.

    Parameters
    ----------
    old : Study
        The earlier study.
    was : Built
        Its lives.
    fit : Fit or None
        Their Weibull fit.
    new : Built
        The later study's lives.
    until : date or None
        Date to which the later records are complete.
    advice : AdviceFigure
        The earlier advice.

    Returns
    -------
    Grade or None
        None where a study has no date, the later one is not later, no engine ran, the use of one is
        not known, or nothing can be forecast.
    """
    then = old.settings.study.analysis_date
    if then is None or until is None or until <= then or not was.rows or not new.rows:
        return None
    running = find_running(was.rows, old.settings)
    if not running or any(e.use_from == "none" or e.count > 1 for e in running):
        return None
    passed_months = (until - then).days / DAYS_PER_MONTH
    keys = old.settings.forecast
    as_printed = keys.hours is None and abs(passed_months - keys.months) <= NEAR_MONTHS
    months = keys.months if as_printed else passed_months
    asked = replace(old.settings, forecast=replace(keys, months=months, hours=None))
    try:
        now = mix_on(was.rows, was.spells, then, old.settings)
        forecast = forecast_fleet(was.spells, fit, running, asked, now)
        stop = stop_chance(was.spells, running, old.settings, advice.plan_from_h, now=now)
    except FleetstatsError:
        return None
    if forecast is None:
        return None
    ran = frozenset(normalise_id(e.engine) for e in running)
    failures = new_failures(old, was, new, ran, advice.plan_from_h)
    return _graded(
        forecast,
        failures,
        ran,
        was,
        new,
        then,
        as_printed=as_printed,
        months=months,
        stop=_stop(old, stop, failures, advice),
        band=_band(advice, failures, was, new),
    )


def _graded(
    forecast: Forecast,
    failures: tuple[NewFailure, ...],
    ran: frozenset[str],
    was: Built,
    new: Built,
    then: dt.date,
    *,
    as_printed: bool,
    months: float,
    stop: StopGrade,
    band: BandGrade,
) -> Grade:
    f, season = forecast.failures, forecast.season
    came = len({normalise_id(x.engine) for x in failures if x.ran_then})
    held = {r.engine_id for r in new.rows}
    return Grade(
        then=str(then),
        months=months,
        as_printed=as_printed,
        forecast=f,
        n_running=forecast.n_running,
        n_gone=sum(e not in held for e in ran),
        came=came,
        verdict="inside" if f.low <= came <= f.high else "fewer" if came < f.low else "more",
        chance=f.law.at_least(came) if came >= f.law.mean else 1.0 - f.law.at_least(came + 1),
        hours_ahead=forecast.fleet_hours,
        hours_flown=_flown(was, new, ran),
        alert=None if season is None else int(season.alert[-1]),
        alert_on=_alert_on(forecast, failures, then),
        false_alarm=0.0 if season is None else season.false_alarm,
        stop=stop,
        band=band,
        failures=failures,
    )


def _stop(
    old: Study, asked: StopChance | None, failures: tuple[NewFailure, ...], advice: AdviceFigure
) -> StopGrade:
    counted = [f for f in failures if f.counts_for_stop]
    n = old.settings.decision.stop_failures
    last = counted[n - 1] if len(counted) >= n else None
    return StopGrade(
        failures=n,
        below_h=advice.plan_from_h,
        counted=len(counted),
        engine="" if last is None else last.engine,
        day="" if last is None else last.day,
        asked=asked,
    )


def new_failures(
    old: Study, was: Built, new: Built, ran: frozenset[str], below_h: float | None
) -> tuple[NewFailure, ...]:
    """Return the failures in question that the earlier records did not hold, dated ones first."""
    then = old.settings.study.analysis_date
    blind = {fold(c) for c in old.settings.check.undetectable_causes}
    known = {e: len(rows) for e, rows in _failed(was).items()}
    before = _totals(was)
    out = []
    for engine, rows in _failed(new).items():
        for r in rows[known.get(engine, 0) :]:
            first_since = engine in before and r is rows[known.get(engine, 0)]
            day = r.ended or r.last_reading
            out.append(
                NewFailure(
                    engine=r.engine,
                    cause=r.cause,
                    hours=r.exit_h,
                    day=str(day or ""),
                    ran_then=engine in ran and first_since,
                    late=day is not None and then is not None and day <= then,
                    counts_for_stop=below_h is None or r.exit_h < below_h or fold(r.cause) in blind,
                )
            )
    return tuple(sorted(out, key=lambda f: (not f.day, f.day, f.hours)))


def _failed(built: Built) -> dict[str, list[LifeRow]]:
    """Return each engine's failures in question, in the order of its hours."""
    out: dict[str, list[LifeRow]] = {}
    for row, event in zip(built.rows, built.spells.event, strict=True):
        if event == Event.FAILED:
            out.setdefault(row.engine_id, []).append(row)
    return {e: sorted(rows, key=lambda r: r.life_start_h + r.exit_h) for e, rows in out.items()}


def _totals(built: Built) -> Mapping[str, float]:
    """Return the hours in all to which each engine is told."""
    out: dict[str, float] = {}
    for r in built.rows:
        out[r.engine_id] = max(out.get(r.engine_id, 0.0), r.life_start_h + r.exit_h)
    return out


def _flown(was: Built, new: Built, ran: frozenset[str]) -> float:
    before, after = _totals(was), _totals(new)
    return sum(max(0.0, after[e] - before[e]) for e in ran if e in after and e in before)


def _alert_on(forecast: Forecast, failures: tuple[NewFailure, ...], then: dt.date) -> str:
    """Return when the monthly line was reached by the failures that the forecast covers."""
    season = forecast.season
    if season is None:
        return ""
    covered = [f for f in failures if f.ran_then]
    dated = [dt.date.fromisoformat(f.day) for f in covered if f.day]
    for month, line in zip(season.month, season.alert, strict=True):
        end = add_months(then, max(1, round(float(month))))
        by_then = sorted(d for d in dated if d <= end)
        if len(by_then) >= int(line):
            return str(by_then[int(line) - 1])
    return "by the end" if len(covered) >= int(season.alert[-1]) else ""


def _band(
    advice: AdviceFigure, failures: tuple[NewFailure, ...], was: Built, new: Built
) -> BandGrade:
    """Return where the new failures lay in the earlier band, and how many engines passed it."""
    start, end = advice.plan_from_h, advice.not_beyond_h
    hours = [] if start is None else [f.hours for f in failures]
    first = 0.0 if start is None else start
    last = float("inf") if end is None else end
    before = {r.engine_id: 0.0 for r in new.rows} | _ages(was)
    failed = {normalise_id(f.engine) for f in failures}
    passed = [e for e, h in _ages(new).items() if before[e] <= first < h and e not in failed]
    return BandGrade(
        state=advice.state,
        plan_from_h=start,
        not_beyond_h=end,
        below=sum(h < first for h in hours),
        within=sum(first <= h <= last for h in hours),
        past=sum(h > last for h in hours),
        passed=0 if start is None else len(passed),
    )


def _ages(built: Built) -> dict[str, float]:
    """Return the greatest hours of any life of each engine, on the study's clock."""
    out: dict[str, float] = {}
    for r in built.rows:
        out[r.engine_id] = max(out.get(r.engine_id, 0.0), r.exit_h)
    return out
