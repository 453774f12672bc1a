"""Lives, and rates of use, far from all others of a fleet: the marks of a slip.

One rule for every driver: the audit asks it of lives, a table read by chunks of its columns, and
the cautions of the spells in use.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.slips import bare_beyond, date_serials, day_of_serial, say_meant
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO_DAY, day_of
from fleetstats.records.trouble.scan import FAILING
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
    n = len(x)
    if n < 2:
        return none
    if weight is None:
        # of a very long table nothing but its greatest values is put in order
        past = max(1.0, FAR_MOST_SHARE * n) + (1.0 - FAR_QUANTILE) * n
        down, total = _greatest(x, int(past) + 3), float(n)
        upto = np.arange(1.0, len(down) + 1.0)
    else:
        order = np.argsort(-x, kind="stable")
        down, upto = x[order], np.cumsum(weight[order])
        total = float(upto[-1])
    k, low, following = upto[:-1], down[:-1], down[1:]
    rest = total - k
    passed = np.floor((1.0 - FAR_QUANTILE) * rest + 1e-9)
    place = np.searchsorted(upto, k + passed, side="right")
    upper = down[np.minimum(place, len(down) - 1)]
    far = low >= FAR_FOLD * following
    enough = rest >= LEAST_FOR_QUANTILE
    far |= enough & (low >= FAR_FROM_NEXT * following) & (low >= FAR_FROM_MOST * upper)
    far &= (k <= max(1.0, FAR_MOST_SHARE * total)) & (rest >= LEAST_FOR_FAR) & (following > 0.0)
    if not far.any():
        return none
    at = int(np.flatnonzero(far)[-1])
    return Far(far=x >= low[at], next=float(following[at]))


def _greatest(x: Array, k: int) -> Array:
    """Return the k greatest values, falling; all of them where there are no more."""
    n = len(x)
    top = x if k >= n else np.partition(x, n - k)[n - k :]
    return np.asarray(np.sort(top)[::-1])


@value
class FarLives(Value):
    """Lives far beyond the others: by hours, by rate of use, or failed far before their time.

    Parameters
    ----------
    by_hours, by_rate, low : Far
        Of each life; one that is far by its hours is not told again by its rate. `low` are
        failures at a rate of use far below all others, whose least is its `next`.
    serial, bare : (n,) bool
        Those of `by_hours` that are numbers of dates, and those of `by_hours` and `by_rate` that
        are whole in a fleet told in tenths.
    rate : (n,) float
        Hours a year since it was put into service; 0 where that is not known.
    least_h, usual_h : float
        Least and median hours of the lives that are not far, which are asked for beside one that
        is far by its hours; NaN without either.
    """

    by_hours: Far
    by_rate: Far
    low: Far
    serial: Array
    bare: Array
    rate: Array
    least_h: float
    usual_h: float

    @property
    def any(self) -> Array:
        """Return which lives are far in any way (n, bool)."""
        return np.asarray(self.by_hours.far | self.by_rate.far | self.low.far)


def find_far_lives(hours: Array, days: Array, failed: Array, day: dt.date | None) -> FarLives:
    """Return the lives of a fleet that lie far beyond all others.

    A rate of use counts from one year in service on, and a high one only for an engine whose hours
    are among the highest tenth: a rate alone does not make a bound. A low one counts for a failure
    alone: engines that stand idle are honest.

    Parameters
    ----------
    hours : (n,) float
        Length of each life on its own clock, gathered since `days` ago.
    days : (n,) float
        Days in service; NaN where not known.
    failed : (n,) bool
        Lives that ended in a failure.
    day : date or None
        The analysis date.
    """
    # a table may be very long: no column stands here twice for longer than it must
    serial = date_serials(hours, day)
    far_h = serial.copy()
    far_h[~serial] = far_beyond(_of(hours, ~serial)).far
    known = np.isfinite(days) & (days >= YEAR_DAYS)
    # with dates the rate of use decides: many hours in many years are a long life
    bare = np.zeros(len(hours), dtype=bool)
    near = _of(hours, ~far_h)
    bare[~far_h] = bare_beyond(near, near)
    bare &= ~known
    far_h |= bare
    rate = np.zeros(len(hours))
    np.divide(hours, days, out=rate, where=known)
    rate *= YEAR_DAYS
    by_rate = _among(known & ~serial, rate)
    bare_rate = np.zeros(len(hours), dtype=bool)
    told = known & ~far_h
    bare_rate[told] = bare_beyond(_of(rate, told), _of(hours, told))
    high = by_rate.far | bare_rate
    if high.any():
        high = ~far_h & (hours >= np.quantile(hours, FAR_QUANTILE))
    used = known & (rate > 0.0)
    low = _among(used, rate, inverse=True)
    rest = _of(hours, ~far_h)
    least_h, usual_h = float("nan"), float("nan")
    if far_h.any() and len(rest):
        least_h, usual_h = float(rest.min()), float(np.median(rest))
    return FarLives(
        by_hours=Far(far=far_h, next=float(rest.max(initial=0.0))),
        by_rate=Far(far=(by_rate.far | bare_rate) & high, next=_next(rate, by_rate, bare_rate)),
        low=Far(far=low.far & failed, next=1.0 / low.next),
        serial=serial,
        bare=bare | (bare_rate & ~by_rate.far & high),
        rate=rate,
        least_h=least_h,
        usual_h=usual_h,
    )


def _of(x: Array, which: Array) -> Array:
    """Return some of the values; where they are all of them, no copy is made."""
    return x if which.all() else x[which]


def _among(which: Array, x: Array, *, inverse: bool = False) -> Far:
    """Return what is far among some of the values, or among their inverses."""
    found = far_beyond(1.0 / _of(x, which) if inverse else _of(x, which))
    far = np.zeros(len(x), dtype=bool)
    far[which] = found.far
    return Far(far=far, next=found.next)


def _next(rate: Array, found: Far, bare: Array) -> float:
    """Return the greatest rate of those that are not far."""
    return float(rate.max(initial=0.0, where=~(found.far | bare)))


def days_in_service(new: Array, last: Array, day: dt.date | None) -> Array:
    """Return the days from each first day to the last one told, else to the analysis date.

    They are whole and fewer than 2^24, so that four bytes hold them exactly.

    Parameters
    ----------
    new, last : (n,) int
        `NO_DAY` where not told.
    day : date or None
        The analysis date.
    """
    end = np.where(last == NO_DAY, NO_DAY if day is None else day.toordinal(), last)
    out = (end - new).astype(np.float32)
    out[(new == NO_DAY) | (end == NO_DAY)] = np.nan
    return out


def far_findings(lives: Sequence[LifeRow], settings: Settings) -> list[tuple[Finding, int]]:
    """Return the findings on lives far beyond the others, each with the life's place.

    Rows that stand for several engines are left out.
    """
    at = [i for i, x in enumerate(lives) if x.count == 1]
    single = [lives[i] for i in at]
    hours = np.array([x.exit_h for x in single], dtype=np.float64)
    new = np.array([day_of(x.in_service) for x in single], dtype=np.int64)
    last = np.array([day_of(x.last_date) for x in single], dtype=np.int64)
    day = settings.study.analysis_date
    failed = np.array([x.ending in FAILING["lives"] for x in single], dtype=bool)
    found = find_far_lives(hours, days_in_service(new, last, day), failed, day)
    return [
        (tell_far(single[k], found, k, settings), at[k]) for k in np.flatnonzero(found.any).tolist()
    ]


def tell_far(life: LifeRow, found: FarLives, k: int, settings: Settings) -> Finding:
    """Return the finding on one life, the one at place `k` of those that were looked at."""
    where = {"column": "exit_hours", "value": f"{life.exit_h:g}", "hours": life.exit_h}
    next_h = found.by_hours.next
    if found.serial[k]:
        shown = day_of_serial(life.exit_h)
        return life_finding("hours-far/serial", life, date=shown, next_h=next_h, **where)
    if found.by_hours.far[k]:
        key = "hours-far/bare" if found.bare[k] else "hours-far"
        meant = say_meant(life.exit_h, found.least_h, found.usual_h, next_h)
        return life_finding(
            key, life, times=life.exit_h / next_h, next_h=next_h, meant=meant, **where
        )
    end = life.last_date or settings.study.analysis_date
    days = 0 if end is None or life.in_service is None else (end - life.in_service).days
    where |= {"days": days, "start": life.in_service, "rate": float(found.rate[k])}
    if found.low.far[k]:
        times = found.low.next / float(found.rate[k])
        return life_finding("hours-low", life, times=times, least=found.low.next, **where)
    key = "hours-far/bare-rate" if found.bare[k] else "hours-far/rate"
    times = float(found.rate[k]) / found.by_rate.next
    return life_finding(key, life, times=times, **where)
