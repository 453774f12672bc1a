"""What a watch says, on one screen."""

from __future__ import annotations

import datetime as dt

from fleetstats.core.units import text_hours, text_number, text_percent
from fleetstats.studies.watch.values import FleetWatch, WatchRow
from fleetstats.survival.change.watching import Delay, WatchLine
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count

MOST_LINES = 14
"""Lines that the screen shows; quiet ones beyond are counted."""


def whose(x: WatchRow) -> str:
    """Say whose failures a line counts, with a blank before; blank for all."""
    return "" if x.by == "all" else f" of cause '{x.name}'"


def due_words(line: WatchLine) -> str:
    """Say how many were due by now: a number, or that none came before."""
    if line.n_before == 0:
        return "none before"
    return f"{text_number(line.expected, digits=2)} due"


def line_sentence(x: WatchRow) -> str:
    """Say one line: its state, its count, and why."""
    line = x.line
    lead = "all in question" if x.by == "all" else f"{x.name}{' (new)' if x.by == 'new' else ''}"
    text = f"{x.state:<6} {lead}: {count(line.n_since, 'failure')}, {due_words(line)}"
    if line.state == "quiet":
        return text
    day = line.alarm_day if line.alarm_day is not None else line.look_day
    assert day is not None
    since = "" if line.first_day is None else f", faster since {_date(line.first_day)}"
    return f"{text}{since}; {line.state} reached on {_date(day)}"


def delay_words(delay: Delay, watch_months: float) -> str:
    """Say how long an alarm takes at a multiplied rate."""
    name = {2.0: "a doubled", 5.0: "a five-fold"}.get(delay.factor, f"a {delay.factor:g}-fold")
    if delay.months is None:
        return (
            f"{name} rate would alarm within {watch_months:.0f} months with a chance of "
            f"{text_percent(delay.chance)}"
        )
    return f"{name} rate would alarm after about {delay.months:.1f} months"


def watch_sentence(watch: FleetWatch) -> str:
    """Say the state and why in one sentence."""
    loud = [x for x in watch.lines if x.state == watch.state]
    if watch.state == "quiet":
        first = watch.lines[0].line
        return (
            f"QUIET: {count(first.n_since, 'failure')} since {watch.base_day}, "
            f"{due_words(first)}; nothing comes faster than the years before let expect."
        )
    # the line that got furthest past its bound says why
    worst = max(loud, key=lambda x: x.line.told - x.line.to_alarm)
    line = worst.line
    what = f"{count(line.n_since, 'failure')}{whose(worst)} since {watch.base_day}"
    before = (
        f"none in {text_hours(watch.hours_before)} before"
        if line.n_before == 0
        else f"{text_number(line.expected, digits=2)} were due at the rate before"
    )
    if watch.state == "alarm":
        return f"ALARM: {what}, {before}. Act on it, and run a study on these records."
    return f"LOOK: {what}, {before}. Chance may explain it; look before it grows."


def watch_cautions(watch: FleetWatch) -> tuple[Caution, ...]:
    """Return a caution for each line in alarm."""
    return tuple(
        caution(
            "watch-alarm",
            value=f"log likelihood ratio {x.line.told:.1f}",
            limit=f"{x.line.to_alarm:.1f}",
            who=whose(x),
            day=watch.base_day,
            after=count(x.line.n_since, "failure"),
            due=text_number(x.line.expected, digits=2) if x.line.n_before else "none before",
        )
        for x in watch.lines
        if x.state == "alarm"
    )


def watch_screen(watch: FleetWatch) -> list[str]:
    """Return the lines of one screen."""
    months = (watch.end_day - watch.base_day).days / 30.4375
    out = [
        watch.sentence,
        "",
        f"Watched: {watch.base_day} to {watch.until} ({watch.why_base}), planned to "
        f"{watch.end_day}.",
        f"Exposed: {count(watch.n_running, 'running engine')}, "
        f"{text_hours(watch.hours_since)} since, {text_hours(watch.hours_before)} before.",
        "",
    ]
    loud = [x for x in watch.lines if x.state != "quiet"]
    calm = [x for x in watch.lines if x.state == "quiet"]
    shown = [*loud, *calm][:MOST_LINES]
    out += [f"  {x.sentence}" for x in shown]
    if len(watch.lines) > len(shown):
        out.append(f"  {len(watch.lines) - len(shown)} further quiet lines")
    if watch.first:
        out += ["", "Look first at:"]
        out += [
            f"  {e.engine} ({e.hours:,.0f} h{', ' + e.source if e.source else ''}): {e.why}"
            for e in watch.first
        ]
    delays = "; ".join(delay_words(d, months) for d in watch.lines[0].line.delays)
    out += [
        "",
        f"Of fleets in which nothing changes, at most {text_percent(watch.false_alarm)} alarm in "
        f"ten years of watching, and at most {text_percent(watch.looks)} look in one. For all "
        f"failures {delays}.",
    ]
    out += _left_out(watch)
    return out


def _left_out(watch: FleetWatch) -> list[str]:
    out = []
    if watch.n_undated > 0:
        out.append(f"{count(watch.n_undated, 'failure')} without dates stayed out.")
    if watch.n_stale:
        out.append(
            f"{count(watch.n_stale, 'running engine')} not read for too long: no hours since the "
            "last reading are counted."
        )
    if watch.n_twice:
        out.append(
            f"{count(watch.n_twice, 'row tells', 'rows tell')} an engine of the list again; the "
            "row that knows more counts."
        )
    return out


def _date(day: float) -> str:
    return dt.date.fromordinal(int(day)).isoformat()
