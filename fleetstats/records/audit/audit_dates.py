"""Audit of one life at a time: its dates against each other, its hours and the analysis date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

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

STARTS = ("in_service", "observed_from")
"""Those on which its hours began to run, or to be watched."""


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


def audit_dates(life: LifeRow, settings: Settings) -> Iterator[Finding]:
    """Yield what is odd about the dates of one life."""
    day = settings.study.analysis_date
    future = False
    for f in odd_dates(life, day):
        future |= f.code == "date-future"
        yield f
    if day is not None and not future:
        yield from stale_reading(life, day, settings)


def odd_dates(life: LifeRow, day: dt.date | None) -> list[Finding]:
    """Return what the dates of one life say against each other, its hours and today.

    Parameters
    ----------
    life : LifeRow
        A life.
    day : date or None
        The analysis date.
    """
    found: list[Finding] = []
    for name, column in DATES.items():
        date: dt.date | None = getattr(life, name)
        if day is not None and date is not None and date > day:
            told = {"column": column, "value": date.isoformat()}
            found.append(life_finding("date-future", life, date=date, day=day, **told))
    last = life.last_date
    for name in STARTS:
        start: dt.date | None = getattr(life, name)
        # a reading without a date was taken by the analysis date at the latest
        end = day if last is None else last
        if start is None or end is None or (last is None and start > end):
            continue
        if start > end:
            told = {"column": DATES[name], "value": start.isoformat()}
            found.append(
                life_finding(
                    "dates-backwards", life, what=DATES[name], start=start, last=end, **told
                )
            )
        else:
            found += _use(life, name, *_widest(life, name, start, end))
    return found


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
    if hours > 24.0 * (days + 1):
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
    elif hours > MOST_HOURS_A_YEAR * days / 365.25 + SLACK_H:
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


def is_stale(life: LifeRow, day: dt.date, settings: Settings) -> bool:
    """Return whether a life is a running engine whose last reading is old on a day."""
    if life.ending != "running" or life.last_reading is None:
        return False
    return (day - life.last_reading).days > settings.hours.stale_days


def stale_reading(life: LifeRow, day: dt.date, settings: Settings) -> Iterator[Finding]:
    """Yield the finding on a running engine whose last reading is old."""
    if life.last_reading is not None and is_stale(life, day, settings):
        old = (day - life.last_reading).days
        carried = settings.hours.carry_to_analysis_date
        yield life_finding(
            "reading-stale/carried" if carried else "reading-stale",
            life,
            last=life.last_reading,
            old=old,
            column="last_reading_date",
            value=life.last_reading.isoformat(),
        )
