"""Rates of use, and readings carried to the analysis date where a study asks for it.

A reading ends what is known of a running engine. By default a life is censored there; carrying it
on assumes that the engine ran on as before and did not fail unheard, and every life carried says
so in its note.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding

DAYS_PER_YEAR = 365.25
DAYS_PER_MONTH = DAYS_PER_YEAR / 12.0

SHORTEST_DAYS = 90
"""Days of use below which an engine's own rate says too little (common practice, no source)."""

MOST_H_PER_YEAR = 3000.0
"""Faster use than this is a slip in a date, not a rate to carry on with (common practice)."""


def calendar_year(day: dt.date) -> float:
    """Return a day as a year with decimals."""
    return day.year + (day.timetuple().tm_yday - 1) / DAYS_PER_YEAR


@value
class Carried(Value):
    """Lives with readings carried to the analysis date.

    `hours_added` is the exposure that no reading shows, `n_carried` the lives that have it, and
    `n_not_carried` the stale ones left at their last reading for want of a rate.
    """

    rows: tuple[LifeRow, ...]
    findings: tuple[Finding, ...]
    n_carried: int
    n_not_carried: int
    hours_added: float


def use_rate(row: LifeRow) -> float | None:
    """Return an engine's own rate of use in hours per day, or None where it cannot be told.

    Hours since observation began over the days since then; for a life followed from its start,
    the day that it began. Below 90 days, or above 3,000 h a year, there is none.
    """
    last = row.last_date
    begun, from_h = row.observed_from, row.entry_h
    if begun is None and row.in_service is not None:
        begun, from_h = row.in_service, 0.0
    if last is None or begun is None:
        return None
    days = (last - begun).days
    hours = row.exit_h - from_h
    if days < SHORTEST_DAYS or hours <= 0:
        return None
    rate = hours / days
    return rate if rate * DAYS_PER_YEAR <= MOST_H_PER_YEAR else None


def carry_readings(rows: Iterable[LifeRow], settings: Settings) -> Carried:
    """Carry the last readings of running engines to the analysis date.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives on the standard clock.
    settings : Settings
        Nothing is carried unless `hours.carry_to_analysis_date` is true.

    Returns
    -------
    Carried
        A running engine with a dated reading and a rate of its own has its exit moved on by that
        rate; one without stays at its last reading, and if that is stale, a finding says so.
    """
    day = settings.study.analysis_date
    out: list[LifeRow] = []
    findings: list[Finding] = []
    n = missed = 0
    added = 0.0
    for row in rows:
        moved = row
        if settings.hours.carry_to_analysis_date and day is not None and row.ending == "running":
            moved, why = _carry(row, day)
            if moved is not row:
                n += row.count
                added += row.count * (moved.exit_h - row.exit_h)
            elif why and _stale(row, day, settings):
                missed += row.count
                findings.append(
                    pool_finding(
                        "reading-not-carried",
                        row.origin,
                        settings,
                        engine=row.engine,
                        column="last_reading_date",
                        value=row.last_date,
                        exit_h=row.exit_h,
                        why=why,
                    )
                )
        out.append(moved)
    return Carried(
        rows=tuple(out), findings=tuple(findings), n_carried=n, n_not_carried=missed,
        hours_added=added,
    )  # fmt: skip


def _stale(row: LifeRow, day: dt.date, settings: Settings) -> bool:
    last = row.last_date
    return last is None or (day - last).days > settings.hours.stale_days


def _carry(row: LifeRow, day: dt.date) -> tuple[LifeRow, str]:
    last = row.last_date
    if last is None:
        return row, "its last reading has no date"
    if last >= day:
        return row, ""
    rate = use_rate(row)
    if rate is None:
        return row, "its own rate of use cannot be told from its dates"
    hours = rate * (day - last).days
    note = f"carried from {row.exit_h:g} h on {last} by {rate * DAYS_PER_YEAR:.0f} h a year"
    return (
        replace(
            row,
            exit_h=row.exit_h + hours,
            carried_h=row.carried_h + hours,
            note="; ".join(t for t in (row.note, note) if t),
        ),
        "",
    )
