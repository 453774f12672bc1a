"""Sentences of the fleet's forecast, made from the numbers alone."""

from __future__ import annotations

from fleetstats.chapters.ahead.forecast_values import CountForecast, Forecast
from fleetstats.core.units import text_decided, text_hours, text_number, text_percent
from fleetstats.vocabulary.wording import count, listed


def counted(f: CountForecast, one: str) -> str:
    """Say a forecast count: expected, then between which counts."""
    about = text_number(f.expected, digits=2)
    span = f"{f.low}" if f.low == f.high else f"{f.low} to {f.high}"
    return f"about {about} {one} expected, {span} with a chance of {100 * f.level:g} %"


def forecast_sentences(f: Forecast) -> tuple[str, ...]:
    """Say failures, removals, spares, reserve, the alert level and what limits them."""
    fails = f.failures
    out = [
        f"In {f.span} ({text_hours(f.fleet_hours)} for {count(f.n_running, 'running engine')}): "
        f"{counted(fails, 'failures')}. The chance of none is {text_percent(fails.none)}.",
    ]
    parts = []
    if f.overhauls is not None:
        parts.append(f"{_range(f.overhauls)} planned overhauls at {text_hours(f.planned_h)}")
    if f.findings is not None:
        parts.append(f"{_range(f.findings)} removals because of a finding, at the pace seen so far")
    if parts:
        out.append(f"Besides come {listed(parts)}; all removals together: {_range(f.removals)}.")
    if f.past_planned:
        out.append(
            f"{count(f.past_planned, 'engine is', 'engines are')} past the planned hours already "
            "and not counted as due."
        )
    if f.season is not None:
        last = int(f.season.alert[-1])
        out.append(
            f"When to worry: at {count(last, 'failure')} or more by the end, or above the monthly "
            f"line before. If nothing has changed, that line is reached in "
            f"{text_decided(f.season.false_alarm_held, f.season.false_alarm)} of seasons."
        )
    if f.spares is not None:
        out.append(
            f"{count(f.spares.at_stated, 'spare engine').capitalize()} would suffice with a chance "
            f"of {text_percent(f.spares.stated)}, if a removed engine is back after "
            f"{f.spares.repair_months:g} months."
        )
    if f.reserve is not None:
        r = f.reserve
        at = r.levels.index(0.9)
        out.append(
            f"Reserve: {text_number(r.mean_per_h)} {r.currency} per engine hour are expected to be "
            f"spent; {text_number(r.per_h[at])} suffice with a chance of 90 %."
        )
    elif f.no_reserve:
        out.append(f.no_reserve)
    if f.share_beyond > 0.01:
        out.append(
            f"{text_decided(f.share_beyond, 0.01)} of the expected failures lie past "
            f"{text_hours(f.horizon_h)}, where the evidence ends: that part is extrapolation."
        )
    if f.n_between:
        out.append(
            f"The hours of {count(f.n_between, 'engine')} are told as a range or as “at least”: "
            "each counts at the edge where failing is likelier, and what it ran beyond “at least” "
            "is in no figure."
        )
    return (*out, _said_of_doubt(f))


def _said_of_doubt(f: Forecast) -> str:
    """Say which doubts the intervals carry, and what they suppose."""
    builds = (
        f"One life law serves {'both' if f.n_builds == 2 else f'all {f.n_builds}'} builds. "
        if f.n_builds > 1
        else ""
    )
    assumed = (
        f"{count(f.n_use_assumed, 'engine')} of unknown use run as stated or as the others do. "
        if f.n_use_assumed and f.season is not None
        else ""
    )
    return (
        f"Parameters and chance are both in these intervals: {f.why} {builds}{assumed}No engine is "
        "replaced and none joins within the forecast."
    )


def _range(f: CountForecast) -> str:
    return f"{f.low}" if f.low == f.high else f"{f.low} to {f.high}"
