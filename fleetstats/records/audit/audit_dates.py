"""Audit of one life at a time: its dates against each other, its hours and the analysis date."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding, make_finding

MOST_HOURS_A_YEAR = 1_500.0
"""A hard-worked training engine flies some 1,000 h a year (common practice, no source)."""

SLACK_H = 100.0
"""Hours by which a short record may pass the yearly figure: weeks of hard use do occur."""

DATES = {
    "in_service": "in_service_date",
    "observed_from": "observed_from_date",
    "last_reading": "last_reading_date",
    "ended": "ended_date",
}
"""Dates of a life, with the columns that they come from."""


def life_finding(key: str, life: LifeRow, **more: Any) -> Finding:
    """Return a finding that stands at a life's own row."""
    return make_finding(
        key,
        file=life.origin.file,
        sheet=life.origin.sheet,
        row=life.origin.row,
        engine=life.engine,
        **more,
    )


def exceeds_calendar(hours: Any, days: Any) -> Any:
    """Return whether hours are more than the days hold; of numbers, or of columns of them."""
    return hours > 24.0 * (days + 1)


def is_implausible(hours: Any, days: Any) -> Any:
    """Return whether so many hours in so many days are hardly a fact; of numbers or columns."""
    return hours > MOST_HOURS_A_YEAR * days / 365.25 + SLACK_H


def may_be_odd(lives: Sequence[LifeRow], settings: Settings) -> list[int]:
    """Return the places of the lives of which `audit_dates` may tell something.

    Of the others it tells nothing. The dates of all are looked at as columns, since most are plain.
    """
    day = settings.study.analysis_date
    today = math.nan if day is None else day.toordinal()
    days = {name: _days([getattr(x, name) for x in lives]) for name in DATES}
    last = np.fmax(days["last_reading"], days["ended"])
    end = np.where(np.isnan(last), today, last)
    least = np.array([x.exit_h if x.exit_low_h is None else x.exit_low_h for x in lives])
    odd = np.array([bool(x.coarse) for x in lives], dtype=bool)
    with np.errstate(invalid="ignore"):  # where a date is blank nothing is odd about it
        for name, from_h in (("in_service", 0.0), ("observed_from", _entries(lives))):
            run, hours = end - days[name], least - from_h
            odd |= (run < 0) | exceeds_calendar(hours, run) | is_implausible(hours, run)
        for when in days.values():
            odd |= when > today
        running = np.array([x.ending == "running" for x in lives], dtype=bool)
        odd |= running & (today - days["last_reading"] > settings.hours.stale_days)
    found: list[int] = np.flatnonzero(odd).tolist()
    return found


def _days(dates: Sequence[dt.date | None]) -> Array:
    told = [math.nan if d is None else d.toordinal() for d in dates]
    return np.array(told, dtype=np.float64)


def _entries(lives: Sequence[LifeRow]) -> Array:
    return np.array([x.entry_h for x in lives], dtype=np.float64)


def audit_dates(life: LifeRow, settings: Settings) -> Iterator[Finding]:
    """Yield what is odd about the dates of one life."""
    day = settings.study.analysis_date
    future = False
    for name, column in DATES.items():
        date: dt.date | None = getattr(life, name)
        if day is not None and date is not None and date > day:
            future = True
            yield life_finding(
                "date-future", life, column=column, value=date.isoformat(), date=date, day=day
            )
    last = life.last_date
    for name in ("in_service", "observed_from"):
        start: dt.date | None = getattr(life, name)
        # a reading without a date was taken by the analysis date at the latest
        end = day if last is None else last
        if start is None or end is None or (last is None and start > end):
            continue
        if start > end:
            yield life_finding(
                "dates-backwards",
                life,
                column=DATES[name],
                value=start.isoformat(),
                what=DATES[name],
                start=start,
                last=end,
            )
        else:
            yield from _use(life, name, *_widest(life, name, start, end))
    if day is not None and not future:
        yield from stale_reading(life, day, settings)


def _widest(life: LifeRow, name: str, start: dt.date, end: dt.date) -> tuple[dt.date, dt.date]:
    """Return the first day that a start, and the last that an end may be."""
    if not life.coarse:
        return start, end
    first = life.days_of(name)
    last = [d[1] for n in ("last_reading", "ended") if (d := life.days_of(n)) is not None]
    return start if first is None else first[0], max([end, *last])


def _use(life: LifeRow, name: str, start: dt.date, last: dt.date) -> Iterator[Finding]:
    days = (last - start).days
    least = life.exit_h if life.exit_low_h is None else life.exit_low_h
    hours = least - (life.entry_h if name == "observed_from" else 0.0)
    if exceeds_calendar(hours, days):
        yield life_finding(
            "hours-exceed-calendar",
            life,
            column="exit_hours",
            value=f"{life.exit_h:g}",
            hours=hours,
            days=days,
            start=start,
            last=last,
        )
    elif is_implausible(hours, days):
        yield life_finding(
            "use-implausible",
            life,
            column="exit_hours",
            value=f"{life.exit_h:g}",
            hours=hours,
            days=days,
            start=start,
            last=last,
            a_year=hours / max(days, 1) * 365.25,
        )


def stale_reading(life: LifeRow, day: dt.date, settings: Settings) -> Iterator[Finding]:
    """Yield the finding on a running engine whose last reading is old."""
    if life.ending != "running" or life.last_reading is None:
        return
    old = (day - life.last_reading).days
    if old > settings.hours.stale_days:
        carried = settings.hours.carry_to_analysis_date
        yield life_finding(
            "reading-stale/carried" if carried else "reading-stale",
            life,
            last=life.last_reading,
            old=old,
            column="last_reading_date",
            value=life.last_reading.isoformat(),
        )
