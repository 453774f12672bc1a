"""Results of the same question put to other records: clocks, earlier dates, years."""

from __future__ import annotations

import datetime as dt

from fleetstats.bands.interval import Interval
from fleetstats.core.value import Bools, Floats, Matrix, Value, value
from fleetstats.records.clocks.clocks import Factor


@value
class Rerun(Value):
    """The main answers from one version of the records.

    `life` is the B-life for the study's reliability target; `verdict` is a word of `VERDICTS`,
    empty where no interval is claimed.
    """

    name: str
    n_lives: float
    n_failed: float
    exposure_h: float
    supported_h: float
    life: Interval
    verdict: str


@value
class ClockRange(Value):
    """The answers with every clock factor at the low end, as stated, and at the high end."""

    runs: tuple[Rerun, ...]
    factors: tuple[Factor, ...]
    n_converted: int
    same_verdict: bool
    sentence: str


@value
class LookingBack(Value):
    """The answers that the same records would have given at earlier cut-off dates.

    `n_undated` lives are in none of the earlier runs, since their dates do not tell where they
    stood; the run before the last then is of today's records without them, to compare with.
    """

    runs: tuple[Rerun, ...]
    dates: tuple[dt.date, ...]
    n_undated: int
    sentence: str


@value
class CalendarView(Value):
    """Lives by hours and by years.

    Parameters
    ----------
    hours, years : (n,) float
        Ages at the end.
    failed : (n,) bool
    hour_edges, year_edges : (p + 1,), (q + 1,) float
    exposure_h, failures : (p, q) float
        Hours at risk and failures by both ages.
    correlation : float or None
        Rank correlation of the two ages at the end.
    shape_hours, shape_years : float or None
        Weibull shape of the same lives on either clock; None where none can be fitted.
    n_undated : int
    """

    hours: Floats
    years: Floats
    failed: Bools
    hour_edges: Floats
    year_edges: Floats
    exposure_h: Matrix
    failures: Matrix
    correlation: float | None
    shape_hours: float | None
    shape_years: float | None
    n_undated: int
    sentence: str
