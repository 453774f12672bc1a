"""Would you have said the same a year ago? The forecast made at an earlier date, and what came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.chapters.ahead.failures_ahead import draw_for_forecast
from fleetstats.chapters.ahead.forecast_change import at_rate_now
from fleetstats.chapters.ahead.forecast_values import CountForecast
from fleetstats.chapters.change import mix_on
from fleetstats.core.errors import FleetstatsError
from fleetstats.core.units import text_hours, text_percent
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
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
    then, width, came, undated = [], [], 0, 0
    keep: list[tuple[int, float, bool]] = []
    for i, row in enumerate(rows):
        line = _line(row)
        if line is None:
            undated += 1
            continue
        begun, rate, last = line
        now = row.exit_h - rate * (last - at).days
        if begun >= at:
            continue
        if last <= at:
            keep.append((i, row.exit_h, True))
            continue
        if now <= row.entry_h:
            continue
        keep.append((i, now, False))
        weight = int(spells.weight[i])
        failed = spells.event[i] == Event.FAILED
        until = end if failed else last
        then += [now] * weight
        width += [rate * max(0, (until - at).days)] * weight
        came += weight if failed else 0
    if not then or not keep:
        return None
    past = _cut(spells, keep)
    try:
        draws = draw_for_forecast(past, settings, np.array(then), np.array(width))
        draws = at_rate_now(draws, mix_on(rows, spells, at, settings))
    except FleetstatsError:
        return None
    law = CountLaw.of_draws(draws.conditional_failure(np.array(then), np.array(width)))
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
        n_undated=undated,
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


def _line(row: LifeRow) -> tuple[dt.date, float, dt.date] | None:
    """First date, hours a day and last date of a life; None where the dates do not tell."""
    last = row.last_date
    if last is None:
        return None
    if row.observed_from is not None and row.observed_from < last:
        return row.observed_from, (row.exit_h - row.entry_h) / (last - row.observed_from).days, last
    if row.in_service is None or row.in_service >= last:
        return None
    rate = (row.exit_h + row.life_start_h) / (last - row.in_service).days
    if rate <= 0.0:
        return None
    begun = last - dt.timedelta(days=(row.exit_h - row.entry_h) / rate)
    return begun, rate, last


def _cut(spells: Spells, keep: list[tuple[int, float, bool]]) -> Spells:
    """Return the spells as they stood: ended ones whole, others censored at their hours then."""
    at = np.array([i for i, _, _ in keep])
    whole = np.array([w for _, _, w in keep])
    hours = np.array([h for _, h, _ in keep])
    past = spells.select(at)
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
