"""Lives, and rates of use, far beyond all others of a fleet: the marks of a digit too many.

One rule for every driver: the audit asks it of lives, a table read by chunks of its columns, and
the cautions of the spells in use.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO_DAY, day_of
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.limits import (
    FAR_FOLD,
    FAR_FROM_MOST,
    FAR_FROM_NEXT,
    FAR_MOST_SHARE,
    FAR_QUANTILE,
    LEAST_FOR_FAR,
    LEAST_FOR_QUANTILE,
)

YEAR_DAYS = 365.25
"""A rate of use is looked at from one year on: hours of a few weeks tell none."""


@value
class Far(Value):
    """Which of n values lie far beyond the rest (n, bool), and the greatest of the rest."""

    far: Array
    next: float


def far_beyond(x: Array, weight: Array | None = None) -> Far:
    """Return the values that lie far beyond all others, at most 1 in 20 of them.

    Far is ten times the greatest of the rest; or, where the rest are ten or more, three times the
    greatest of them and five times what 90 % of them do not pass.

    Parameters
    ----------
    x : (n,) float
        Hours, or hours a year; 0 or more.
    weight : (n,) float, optional
        How many equal lives each stands for.
    """
    none = Far(far=np.zeros(len(x), dtype=bool), next=float("nan"))
    if len(x) < 2:
        return none
    order = np.argsort(-x, kind="stable")
    down = x[order]
    upto = np.cumsum(np.ones(len(x)) if weight is None else weight[order])
    k, low, following = upto[:-1], down[:-1], down[1:]
    rest = upto[-1] - k
    past = np.floor((1.0 - FAR_QUANTILE) * rest + 1e-9)
    place = np.searchsorted(upto, k + past, side="right")
    upper = down[np.minimum(place, len(x) - 1)]
    far = low >= FAR_FOLD * following
    enough = rest >= LEAST_FOR_QUANTILE
    far |= enough & (low >= FAR_FROM_NEXT * following) & (low >= FAR_FROM_MOST * upper)
    far &= (k <= max(1.0, FAR_MOST_SHARE * upto[-1])) & (rest >= LEAST_FOR_FAR) & (following > 0.0)
    if not far.any():
        return none
    at = int(np.flatnonzero(far)[-1])
    return Far(far=x >= low[at], next=float(following[at]))


@value
class FarLives(Value):
    """Lives far beyond the others: by hours, and by rate of use.

    Parameters
    ----------
    by_hours, by_rate : Far
        Of each life; one that is far by its hours is not told again by its rate.
    rate : (n,) float
        Hours a year since it was put into service; 0 where that is not known.
    """

    by_hours: Far
    by_rate: Far
    rate: Array


def find_far_lives(hours: Array, since_new_h: Array, days: Array) -> FarLives:
    """Return the lives of a fleet that lie far beyond all others.

    A rate of use counts from one year in service on, and only for an engine whose hours are among
    the highest tenth: a rate alone does not make a bound.

    Parameters
    ----------
    hours : (n,) float
        Length of each life on its own clock.
    since_new_h : (n,) float
        Hours gathered since `days` ago.
    days : (n,) float
        Days in service; NaN where not known.
    """
    by_hours = far_beyond(hours)
    known = np.isfinite(days) & (np.nan_to_num(days) >= YEAR_DAYS)
    rate = np.where(known, since_new_h / np.where(known, days, 1.0) * YEAR_DAYS, 0.0)
    far = np.zeros(len(hours), dtype=bool)
    rated = far_beyond(rate[known])
    far[known] = rated.far
    if len(hours):
        far &= ~by_hours.far & (hours >= np.quantile(hours, FAR_QUANTILE))
    return FarLives(by_hours=by_hours, by_rate=Far(far=far, next=rated.next), rate=rate)


def days_in_service(new: Array, last: Array, day: dt.date | None) -> Array:
    """Return the days from each first day to the last one told, else to the analysis date.

    Parameters
    ----------
    new, last : (n,) int
        `NO_DAY` where not told.
    day : date or None
        The analysis date.
    """
    end = np.where(last == NO_DAY, NO_DAY if day is None else day.toordinal(), last)
    return np.where((new == NO_DAY) | (end == NO_DAY), np.nan, (end - new).astype(np.float64))


def far_findings(lives: Sequence[LifeRow], settings: Settings) -> list[tuple[Finding, int]]:
    """Return the findings on lives far beyond the others, each with the life's place.

    Rows that stand for several engines are left out.
    """
    at = [i for i, x in enumerate(lives) if x.count == 1]
    single = [lives[i] for i in at]
    hours = np.array([x.exit_h for x in single], dtype=np.float64)
    new = np.array([day_of(x.in_service) for x in single], dtype=np.int64)
    last = np.array([day_of(x.last_date) for x in single], dtype=np.int64)
    found = find_far_lives(hours, hours, days_in_service(new, last, settings.study.analysis_date))
    return [
        (tell_far(single[k], found, k, settings), at[k])
        for k in np.flatnonzero(found.by_hours.far | found.by_rate.far).tolist()
    ]


def tell_far(life: LifeRow, found: FarLives, k: int, settings: Settings) -> Finding:
    """Return the finding on one life, the one at place `k` of those that were looked at."""
    where = {"column": "exit_hours", "value": f"{life.exit_h:g}", "hours": life.exit_h}
    if found.by_hours.far[k]:
        next_h = found.by_hours.next
        return life_finding("hours-far", life, times=life.exit_h / next_h, next_h=next_h, **where)
    end = life.last_date or settings.study.analysis_date
    rate = float(found.rate[k])
    days = 0 if end is None or life.in_service is None else (end - life.in_service).days
    return life_finding(
        "hours-far/rate", life, times=rate / found.by_rate.next, rate=rate, days=days,
        start=life.in_service, **where,
    )  # fmt: skip
