"""The same question put to the records as they might be: other clocks, earlier dates, years."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import FitError
from fleetstats.core.units import text_decided, text_hours, text_number
from fleetstats.core.value import Array, Bools, Floats, Matrix, Value, value
from fleetstats.records.clocks.clock_ends import rows_at_ends
from fleetstats.records.clocks.clocks import Factor
from fleetstats.records.cutoff import has_beginning, rows_as_of
from fleetstats.records.lives.life import LifeRow
from fleetstats.spells.build import spells_for
from fleetstats.spells.calendar import build_calendar
from fleetstats.spells.spells import Spells
from fleetstats.study.rules import judge_ending
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.wording import count

YEARS_BACK = (1, 2)
"""How far back a study looks; the change within a year is what a reviewer asks for first."""

FEWEST_DATED = 10
"""Lives with dates below which no calendar view is shown."""


TIED = 0.9
"""Rank correlation of hours and years above which they cannot be told apart (no source)."""

ALIKE = 1.5
"""Shapes within this ratio are called alike; few failures tell no finer difference."""


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


def run_rows(name: str, rows: Sequence[LifeRow], settings: Settings) -> Rerun | None:
    """Return the main answers from some lives; None when no life is left."""
    judged = [(r, judge_ending(r, settings)) for r in rows]
    kept = [(r, v) for r, v in judged if v.counts_as != "excluded"]
    if not kept:
        return None
    spells = spells_for(tuple(r for r, _ in kept), tuple(v for _, v in kept), settings)
    fit = _fit(spells)
    lives = Quoter.of(spells, fit, settings)
    claim = settings.study.claimed_interval_h
    word = ""
    if claim is not None:
        word = judge_claim(lives, claim, 1.0 - accepted_failure(settings)).word
    return Rerun(
        name=name,
        n_lives=float(spells.weight.sum()),
        n_failed=spells.n_failed,
        exposure_h=spells.exposure_h,
        supported_h=lives.reach_h,
        life=lives.interval(Quantity.life(1.0 - settings.targets.reliability)),
        verdict=word,
    )


def _fit(spells: Spells) -> Fit | None:
    try:
        return fit_weibull(spells)
    except FitError:
        return None


@value
class ClockRange(Value):
    """The answers with every clock factor at the low end, as stated, and at the high end."""

    runs: tuple[Rerun, ...]
    factors: tuple[Factor, ...]
    n_converted: int
    same_verdict: bool
    sentence: str


def advise_clocks(
    rows: Sequence[LifeRow], settings: Settings, own: tuple[Factor, ...] = ()
) -> ClockRange | None:
    """Rerun a study at both ends of its clock factors; None when no factor has a range in use.

    Parameters
    ----------
    rows : sequence of LifeRow
        Lives used, converted with the factors as stated.
    settings : Settings
        The factors and their ranges, the question, the claim.
    own : tuple of Factor
        Engines' own factors.
    """
    ends = rows_at_ends(rows, settings, own=own)
    if not ends:
        return None
    made = [
        run_rows("low end of the factors", ends["low"], settings),
        run_rows("as stated", rows, settings),
        run_rows("high end of the factors", ends["high"], settings),
    ]
    runs = tuple(r for r in made if r is not None)
    words = {r.verdict for r in runs}
    n = sum(r.count for r in rows if r.meter and r.meter != settings.hours.meter)
    return ClockRange(
        runs=runs,
        factors=own,
        n_converted=n,
        same_verdict=len(words) == 1,
        sentence=_clock_sentence(runs, n, words),
    )


def _clock_sentence(runs: tuple[Rerun, ...], n: int, words: set[str]) -> str:
    lows = [r.life.low for r in runs if r.life.low is not None]
    text = f"The hours of {count(n, 'life', 'lives')} were converted from another meter."
    if lows:
        text += (
            f" With every factor at the low or at the high end of its range, the lower edge of the "
            f"{runs[0].life.name} lies between {text_hours(min(lows))} and {text_hours(max(lows))}."
        )
    if words == {""}:
        return text
    if len(words) == 1:
        return f"{text} The verdict on the claimed interval is the same at both ends."
    told = ", ".join(f"{VERDICTS[r.verdict]} at the {r.name}" for r in runs if r.verdict)
    return f"{text} The verdict on the claimed interval hangs on the clocks: {told}."


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


def advise_looking_back(rows: Sequence[LifeRow], settings: Settings) -> LookingBack | None:
    """Return the answers as of one and two years before the analysis date.

    None without an analysis date, or where most lives have no dates.
    """
    today = settings.study.analysis_date
    if today is None:
        return None
    runs: list[Rerun] = []
    dates: list[dt.date] = []
    undated = 0
    for years in (*reversed(YEARS_BACK), 0):
        day = today - dt.timedelta(days=round(365.25 * years))
        then = rows_as_of(rows, day)
        if years and then.n_undated > 0.5 * sum(r.count for r in rows):
            return None
        undated = max(undated, then.n_undated if years else 0)
        run = run_rows(f"as of {day}", then.rows if years else rows, settings)
        if not years and undated:
            dated = [r for r in rows if r.last_date is not None and has_beginning(r)]
            same_lives = run_rows(f"as of {day}, the lives with dates", dated, settings)
            if same_lives is not None:
                runs.append(same_lives)
                dates.append(day)
        if run is not None:
            runs.append(run)
            dates.append(day)
    if len(runs) < 2:
        return None
    first, last = runs[0], runs[-1]
    now = runs[-2] if undated and len(runs) > 2 else last
    text = (
        f"As of {dates[0]} these records held {count(int(first.n_failed), 'failure')} in "
        f"{first.exposure_h:,.0f} h; now {count(int(now.n_failed), 'failure')} in "
        f"{now.exposure_h:,.0f} h"
    ) + (" of the same lives." if now is not last else ".")
    if last.verdict:
        same = {r.verdict for r in runs} == {last.verdict}
        text += (
            " The verdict on the claimed interval would have been the same."
            if same
            else " The verdict was: "
            + ", ".join(f"{VERDICTS[r.verdict]} {r.name}" for r in runs)
            + "."
        )
    return LookingBack(runs=tuple(runs), dates=tuple(dates), n_undated=undated, sentence=text)


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


def advise_calendar(rows: Sequence[LifeRow], spells: Spells) -> CalendarView | None:
    """Return the calendar view of the lives; None when fewer than ten have dates."""
    cal = build_calendar(rows, spells)
    if len(cal) < FEWEST_DATED:
        return None
    hour_edges, year_edges = _edges(cal.spells.oldest_h), _edges(float(cal.exit_years.max()))
    exposure, failures = cal.cross(hour_edges, year_edges)
    by_hours, by_years = _fit(cal.spells), _fit(cal.by_years)
    shapes = tuple(None if f is None else float(f.shape) for f in (by_hours, by_years))
    return CalendarView(
        hours=cal.spells.exit_upper,
        years=cal.exit_years,
        failed=cal.spells.failed,
        hour_edges=hour_edges,
        year_edges=year_edges,
        exposure_h=exposure,
        failures=failures,
        correlation=cal.correlation,
        shape_hours=shapes[0],
        shape_years=shapes[1],
        n_undated=cal.n_undated,
        sentence=_calendar_sentence(
            cal.correlation,
            shapes,
            cal.spells.n_failed,
            n_dated=float(cal.spells.weight.sum()),
            n_undated=cal.n_undated,
        ),
    )


def _edges(last: float) -> Array:
    """Return even bands, at most six, up to a round figure at or past the last age."""
    step = 10.0 ** math.floor(math.log10(last / 6.0))
    width = next(step * m for m in (1.0, 2.0, 2.5, 5.0, 10.0) if step * m * 6.0 >= last)
    return np.asarray(np.arange(math.ceil(last / width - 1e-9) + 1) * width)


def _calendar_sentence(
    correlation: float | None,
    shapes: tuple[float | None, ...],
    n_failed: float,
    *,
    n_dated: float,
    n_undated: int,
) -> str:
    parts = []
    of = f"of the {count(n_dated, 'life', 'lives')} with dates " if n_undated else ""
    if correlation is not None:
        tie = (
            "so closely that these records cannot tell which of the two ages the engines"
            if correlation > TIED
            else "loosely enough to look at both"
        )
        parts.append(
            f"Hours and years run together with a rank correlation of "
            f"{text_decided(correlation, TIED, unit='', digits=2)}, "
        )
        parts[-1] += tie + "."
    a, b = shapes
    if a is not None and b is not None and n_failed >= 5:
        alike = max(a, b) < ALIKE * min(a, b)
        more = "more regular by hours" if a > b else "more regular by years"
        parts.append(
            f"The Weibull shape {of}is {text_number(a)} by hours and {text_number(b)} by years: "
            f"failures are {'about as regular by either' if alike else more}."
        )
    else:
        parts.append(
            "Too few failures to compare the two clocks; the table shows where exposure is thin, "
            "and there hours do not tell."
        )
    return " ".join(parts)
