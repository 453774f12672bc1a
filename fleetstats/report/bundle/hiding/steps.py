"""The steps to which hours and dates are coarsened, and the one rising map of an engine's hours."""

from __future__ import annotations

import calendar
import datetime as dt
import math
import re
from collections.abc import Mapping

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Value, value
from fleetstats.vocabulary.fold import fold

MONTHS = {"month": 1, "quarter": 3, "year": 12}
"""Steps of dates, with their months."""

LARGEST_STEP_H = 100
"""Coarser hours would be no records of an overhaul interval any more (common practice, no
source)."""

DIGITS = 3
"""Significant digits that are left of readings, covariates, costs and bench runs."""

_SAME_H = 6
"""Decimals of an hour in which two hours of one engine are told apart."""


@value
class Steps(Value):
    """To which steps a bundle is coarsened: hours in whole `hours_h`, dates in whole `dates`.

    >>> Steps().said
    'hours to 1 h, dates to the month'
    """

    hours_h: int = 1
    dates: str = "month"

    @property
    def said(self) -> str:
        """Return the steps as sentences name them."""
        return f"hours to {self.hours_h} h, dates to the {self.dates}"

    def first_day(self, day: dt.date) -> dt.date:
        """Return the first day of the step that holds a day."""
        n = MONTHS[self.dates]
        return dt.date(day.year, (day.month - 1) // n * n + 1, 1)

    def last_day(self, day: dt.date, known_to: dt.date | None) -> dt.date:
        """Return the last day of the step that holds a day.

        One that lies on or before `known_to` stays so, and one after it stays after it.
        """
        first, n = self.first_day(day), MONTHS[self.dates]
        month = first.month + n - 1
        end = dt.date(first.year, month, calendar.monthrange(first.year, month)[1])
        return min(end, known_to) if known_to is not None and day <= known_to else end


def read_steps(text: str) -> Steps:
    """Return the steps that an option asks for, such as ``10h``, ``quarter`` or ``10h,quarter``.

    Raises
    ------
    ReportError
        If a part is neither whole hours nor a step of dates, or stands twice.

    >>> read_steps("10h,quarter")
    Steps(hours_h=10, dates='quarter')
    """
    told: dict[str, int | str] = {}
    for part in map(fold, text.split(",")):
        hours = re.fullmatch(r"(\d{1,3})\s*h", part)
        name, x = ("hours_h", int(hours[1])) if hours else ("dates", part)
        known = 1 <= int(x) <= LARGEST_STEP_H if hours else part in MONTHS
        if not known or name in told:
            raise ReportError(
                f"'{text[:40]}' names no steps: '{part[:20]}' "
                f"{'stands twice' if name in told else 'is not known'}.",
                f"Name whole hours, 1h to {LARGEST_STEP_H}h, and one of {', '.join(MONTHS)}, "
                "such as 10h,quarter.",
            )
        told[name] = x
    return Steps(**told)  # type: ignore[arg-type]


def rising(hours: Mapping[float, bool], step_h: int) -> dict[float, float]:
    """Return the coarsened hours of one engine on one clock: a map that never falls.

    So whatever stood before something else, or with it, still does. Hours marked true begin or end
    something (a life, an interval without a check); two of these that differed still differ, moved
    up by a step where the nearest steps would be the same.

    Parameters
    ----------
    hours : mapping
        Hours, and whether they begin or end something.
    step_h : int
        Step in hours.

    >>> rising({0.4: True, 71.085: True, 71.2: True, 71.3: False}, 1)
    {0.4: 1.0, 71.085: 71.0, 71.2: 72.0, 71.3: 72.0}
    """
    out: dict[float, float] = {}
    last, bound, bound_was = 0.0, 0.0, 0.0
    for was in sorted(hours):
        if was < 0.0 or not math.isfinite(was):  # no hours of an engine; kept as such
            out[was] = min(nearest(was, step_h), -float(step_h)) if math.isfinite(was) else was
            continue
        now = max(nearest(was, step_h), last)
        if hours[was]:
            if was > bound_was:
                now = max(now, bound + step_h)
            bound, bound_was = now, was
        out[was] = last = now
    return out


def nearest(hours: float, step_h: int) -> float:
    """Return the step nearest to some hours; half a step goes up."""
    return float(math.floor(hours / step_h + 0.5) * step_h)


def same_hours(hours: float) -> float:
    """Return hours without the last digits that arithmetic leaves in them."""
    return round(hours, _SAME_H)


def few_digits(x: float) -> float:
    """Return a number with the digits that are left of it."""
    return float(f"{x:.{DIGITS}g}")


def number_text(x: float) -> str:
    """Return a number as it is written: whole ones without a point, so that no digit tells more."""
    return str(int(x)) if math.isfinite(x) and x == int(x) else repr(float(x))
