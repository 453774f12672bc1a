"""Would you have said the same a year ago? The forecast made at an earlier date, and what came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.chapters.ahead.failures_ahead import draw_for_forecast
from fleetstats.chapters.ahead.forecast_change import at_rate_now
from fleetstats.chapters.ahead.forecast_values import CountForecast
from fleetstats.chapters.change import mix_on
from fleetstats.core.errors import FleetstatsError
from fleetstats.core.units import text_hours, text_percent
from fleetstats.core.value import Array, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.spells.days.day_limits import days_of
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.count_law import CountLaw
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count


@value
class Backtest(Value):
    """A forecast from an earlier date beside what came.

    Parameters
    ----------
    at : date
        Date to which the records were cut.
    forecast : CountForecast
        Failures from then to the analysis date, among engines then running.
    seen : int
        Failures that came among them.
    verdict : str
        ``"inside"`` the interval, ``"fewer"`` or ``"more"`` than it holds.
    chance : float
        Chance of a count at least as far out on that side, if the forecast was right.
    hours_then, hours_ahead : float
        Hours at risk known at that date, and hours that the forecast runs over.
    n_then, n_failed_then : int
        Engines running and failures known at that date.
    n_undated : int
        Lives left out because their dates do not tell their hours at that date.
    """

    at: dt.date
    forecast: CountForecast
    seen: int
    verdict: str
    chance: float
    hours_then: float
    hours_ahead: float
    n_then: int
    n_failed_then: float
    n_undated: int
    method: str
    sentences: tuple[str, ...]
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return "\n".join((f"Back-test at {self.at}", *self.sentences))


def backtest_forecast(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings
) -> Backtest | None:
    """Cut the records at an earlier date, forecast to the analysis date, compare.

    Hours at the earlier date are read off a straight line between the dates and hours of each
    life's two ends. An engine then running is forecast over the hours it came to run; one that
    failed, over the hours it would have run at its own rate to the analysis date, since at the
    time nobody knew better.

    Parameters
    ----------
    rows : sequence of LifeRow
        The lives, in the order of `spells`.
    spells : Spells
        Their spells for the question.
    settings : Settings
        ``[forecast] backtest_date``, else 12 months before the analysis date.

    Returns
    -------
    Backtest or None
        None where no dates allow it.
    """
    end = settings.study.analysis_date
    if end is None:
        return None
    at = settings.forecast.backtest_date or _year_before(end)
    told = _lines(rows)
    day, dated = at.toordinal(), np.isfinite(told.begun)
    now = told.exit_h - told.rate * (told.last - day)
    begun = dated & (told.begun < day)
    whole = begun & (told.last <= day)
    ran = begun & ~whole & (now > told.entry_h)
    some = np.flatnonzero(whole | ran)
    if not ran.any():
        return None
    past = _cut(spells, some, whole[some], now[some])
    failed = spells.event == Event.FAILED
    until = np.where(failed, float(end.toordinal()), told.last)
    weight = spells.weight[ran].astype(np.int64)
    then = np.repeat(now[ran], weight)
    width = np.repeat((told.rate * np.maximum(0.0, until - day))[ran], weight)
    came = int(weight[failed[ran]].sum())
    try:
        draws = draw_for_forecast(past, settings, then, width)
        draws = at_rate_now(draws, mix_on(rows, spells, at, settings))
    except FleetstatsError:
        return None
    law = CountLaw.of_draws(draws.conditional_failure(then, width))
    f = CountForecast.of("failures", law, settings.study.confidence)
    verdict = "inside" if f.low <= came <= f.high else "fewer" if came < f.low else "more"
    chance = law.at_least(came) if came >= law.mean else 1.0 - law.at_least(came + 1)
    out = Backtest(
        at=at,
        forecast=f,
        seen=came,
        verdict=verdict,
        chance=chance,
        hours_then=past.exposure_h,
        hours_ahead=float(np.sum(width)),
        n_then=len(then),
        n_failed_then=past.n_failed,
        n_undated=int((~dated).sum()),
        method=draws.method,
        sentences=(),
    )
    return replace(out, sentences=_sentences(out), cautions=_cautions(out))


def _cautions(b: Backtest) -> tuple[Caution, ...]:
    """Return a caution where more came than the forecast held."""
    if b.verdict != "more":
        return ()
    told = caution(
        "forecast-failed",
        value=count(b.seen, "failure"),
        limit=f"{b.forecast.low} to {b.forecast.high}",
        day=b.at,
        came=count(b.seen, "failure"),
        low=b.forecast.low,
        high=b.forecast.high,
    )
    return (told,)


def _year_before(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=365)


@dataclass(frozen=True, slots=True, kw_only=True)
class _DatedLives:
    """First and last day (n,) of each life, its hours then and by day; NaN where not told."""

    begun: Array
    last: Array
    rate: Array
    entry_h: Array
    exit_h: Array


def _lines(rows: Sequence[LifeRow]) -> _DatedLives:
    entry_h = np.array([x.entry_h for x in rows], dtype=np.float64)
    exit_h = np.array([x.exit_h for x in rows], dtype=np.float64)
    start_h = np.array([x.life_start_h for x in rows], dtype=np.float64)
    last = days_of([x.last_date for x in rows])
    first, new = (days_of([getattr(x, f) for x in rows]) for f in ("observed_from", "in_service"))
    run = exit_h - entry_h
    with np.errstate(divide="ignore", invalid="ignore"):
        watched, known = first < last, new < last
        rate = np.where(watched, run / (last - first), (exit_h + start_h) / (last - new))
        # whole days, as the calendar counts them
        back = np.floor(np.rint(run / rate * _PER_DAY) / _PER_DAY)
        begun = np.where(watched, first, np.where(known & (rate > 0.0), last - back, np.nan))
    return _DatedLives(begun=begun, last=last, rate=rate, entry_h=entry_h, exit_h=exit_h)


_PER_DAY = 86_400e6
"""Parts of a day to which a span of time is told: microseconds."""


def _cut(spells: Spells, some: Array, whole: Array, hours: Array) -> Spells:
    """Return some spells as they stood: ended ones whole, others censored at their hours then."""
    past = spells.select(some)
    return past.replace(
        exit_lower=np.where(whole, past.exit_lower, hours),
        exit_upper=np.where(whole, past.exit_upper, hours),
        event=np.where(whole, past.event, Event.CENSORED),
    )


def _sentences(b: Backtest) -> tuple[str, ...]:
    f = b.forecast
    span = f"{f.low}" if f.low == f.high else f"{f.low} to {f.high}"
    out = [
        f"On {b.at}, with {count(b.n_failed_then, 'failure')} in {text_hours(b.hours_then)}, this "
        f"tool would have said: {span} failures by the analysis date among "
        f"{count(b.n_then, 'engine')} then running ({100 * f.level:g} % interval). "
        f"{count(b.seen, 'failure').capitalize()} came.",
    ]
    if b.verdict == "inside":
        out.append("That lies inside the interval, which is what most forecasts should do.")
    else:
        side = "more" if b.verdict == "more" else "fewer"
        out.append(
            f"That is {side} than the interval holds; if nothing had changed, so {side} would have "
            f"come with a chance of {text_percent(b.chance)}. Look for what changed: builds, use, "
            "reporting or definition."
        )
    if b.n_undated:
        out.append(
            f"{count(b.n_undated, 'life has', 'lives have')} no dates that tell the hours then, "
            "and stayed out."
        )
    return tuple(out)
