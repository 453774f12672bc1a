"""Slips that a fleet shows: the number of a date for hours, a lost decimal mark, a tenth, minutes.

Each is told from the other lives of the fleet, never from one life alone.
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from fleetstats.core.value import Array
from fleetstats.vocabulary.limits import (
    BARE_FROM_NEXT,
    FAR_MOST_SHARE,
    LEAST_FOR_QUANTILE,
    MARKED_SHARE,
    SERIAL_FROM_NEXT,
)

DAY_ZERO = dt.date(1899, 12, 30)
"""Spreadsheets number the days from here."""

FIRST_SERIAL = (dt.date(1990, 1, 1) - DAY_ZERO).days
LAST_SERIAL = (dt.date(2050, 1, 1) - DAY_ZERO).days

WHOLE_H = 0.005
"""Hours this near to a whole number are one."""

MEANT: tuple[tuple[float, str], ...] = (
    (10.0, " A tenth of it, {h:,g} h, would lie among the others."),
    (60.0, " Were it minutes, {h:,.4g} h would lie among the others."),
)
"""Factors by which slips of hours are too great, with what is said of them."""


def day_of_serial(hours: float) -> dt.date:
    """Return the date that a spreadsheet shows for a number."""
    return DAY_ZERO + dt.timedelta(days=int(hours))


def _whole(hours: Array) -> Array:
    off = np.round(hours)
    off -= hours
    return np.asarray(np.abs(off, out=off) < WHOLE_H)


def date_serials(hours: Array, day: dt.date | None) -> Array:
    """Return which hours are the numbers of dates: whole, of a day since 1990, and beyond all else.

    Parameters
    ----------
    hours : (n,) float
        Length of each life.
    day : date or None
        The analysis date, after which no date is looked for.

    Returns
    -------
    (n,) bool
        Where every life looks so, every one is told.
    """
    last = LAST_SERIAL if day is None else (day - DAY_ZERO).days
    looks = _whole(hours) & (hours >= FIRST_SERIAL) & (hours <= last)
    rest = hours.max(initial=0.0, where=~looks)
    return np.asarray(looks & (hours > SERIAL_FROM_NEXT * rest))


def bare_beyond(x: Array, hours: Array) -> Array:
    """Return which values lie beyond all others and have whole hours in a fleet told in tenths.

    Parameters
    ----------
    x : (n,) float
        Hours or hours a year; a tenth of a value found lies among the others.
    hours : (n,) float
        The hours that were read.

    Returns
    -------
    (n,) bool
        At most 1 in 20 of them.
    """
    none = np.zeros(len(x), dtype=bool)
    marked = ~_whole(hours)
    if marked.sum() < max(LEAST_FOR_QUANTILE, MARKED_SHARE * len(x)):
        return none
    high = float(x.max(initial=-np.inf, where=marked))
    low = float(x.min(initial=np.inf, where=marked))
    found = ~marked & (x > BARE_FROM_NEXT * high) & (x >= 10.0 * low) & (x <= 10.0 * high)
    return found if found.sum() <= max(1.0, FAR_MOST_SHARE * len(x)) else none


def say_meant(hours: float, least: float, usual: float, most: float) -> str:
    """Say what a number far beyond all others may have been meant for, where that fits the rest.

    Parameters
    ----------
    hours : float
        As told.
    least, usual, most : float
        Least, median and greatest hours of the others.
    """
    fits = [(hours / k, says) for k, says in MEANT if least <= hours / k <= most]
    if not fits:
        return ""
    h, says = min(fits, key=lambda x: abs(np.log(x[0] / usual)))
    return says.format(h=h)
