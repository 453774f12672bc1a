"""The same question put to the records as they might be: other clocks, earlier dates, years."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.judge import Judgement, accepted_failure, judge_claim
from fleetstats.advice.left_out import count_left_out, held_to_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.clocks_and_dates.values import CalendarView, ClockRange, LookingBack, Rerun
from fleetstats.chapters.clocks_and_dates.words import calendar_sentence, clock_sentence
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.records.clocks.clock_ends import rows_at_ends
from fleetstats.records.clocks.clocks import Factor
from fleetstats.records.cutoff import has_beginning, rows_as_of
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_endings
from fleetstats.spells.build import spells_for
from fleetstats.spells.calendar import build_calendar
from fleetstats.spells.days.since import ages_at
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.wording import failures_told

YEARS_BACK = (1, 2)
"""How far back a study looks; the change within a year is what a reviewer asks for first."""

FEWEST_DATED = 10
"""Lives with dates below which no calendar view is shown."""


def run_rows(
    name: str,
    rows: Sequence[LifeRow],
    settings: Settings,
    left_out: tuple[LeftOut, ...] = (),
    before_rise: dt.date | None = None,
) -> Rerun | None:
    """Return the main answers from some lives; None when no life is left.

    Failures that no life counts have no hours and no date of their own: they belong to each. A rise
    that the study's records show after a day, `before_rise`, is known to each as well.
    """
    judged = zip(rows, judge_endings(rows, settings), strict=True)
    kept = [(r, v) for r, v in judged if v.counts_as != "excluded"]
    if not kept:
        return None
    spells = spells_for(tuple(r for r, _ in kept), tuple(v for _, v in kept), settings)
    if before_rise is not None:
        ages = ages_at(kept, before_rise, settings.study.analysis_date)
        spells = spells.replace(at_rise_h=ages)
    return run_spells(name, spells.with_left_out(left_out), settings)[0]


def run_spells(name: str, spells: Spells, settings: Settings) -> tuple[Rerun, Judgement | None]:
    """Return the main answers from some spells, and the judgement of the claim if one is made."""
    lives = Quoter.of(spells, _fit(spells), settings)
    claim = settings.study.claimed_interval_h
    judged = None
    if claim is not None:
        judged = judge_claim(lives, claim, 1.0 - accepted_failure(settings))
    run = Rerun(
        name=name,
        n_lives=float(spells.weight.sum()),
        n_failed=spells.n_failed,
        exposure_h=spells.exposure_h,
        supported_h=lives.reach_h,
        life=held_to_left_out(lives, Quantity.life(1.0 - settings.targets.reliability)),
        verdict="" if judged is None else judged.word,
    )
    return run, judged


def _fit(spells: Spells) -> Fit | None:
    try:
        return fit_weibull(spells)
    except FitError:
        return None


def advise_clocks(
    rows: Sequence[LifeRow],
    settings: Settings,
    own: tuple[Factor, ...] = (),
    left_out: tuple[LeftOut, ...] = (),
    before_rise: dt.date | None = None,
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
    left_out : tuple of LeftOut
        Failures that no life counts.
    before_rise : date, optional
        The last day before a rise that the records show.
    """
    ends = rows_at_ends(rows, settings, own=own)
    if not ends:
        return None
    made = [
        run_rows("low end of the factors", ends["low"], settings, left_out, before_rise),
        run_rows("as stated", rows, settings, left_out, before_rise),
        run_rows("high end of the factors", ends["high"], settings, left_out, before_rise),
    ]
    runs = tuple(r for r in made if r is not None)
    words = {r.verdict for r in runs}
    n = sum(r.count for r in rows if r.meter and r.meter != settings.hours.meter)
    return ClockRange(
        runs=runs,
        factors=own,
        n_converted=n,
        same_verdict=len(words) == 1,
        sentence=clock_sentence(runs, n, words),
    )


def advise_looking_back(
    rows: Sequence[LifeRow],
    settings: Settings,
    left_out: tuple[LeftOut, ...] = (),
    before_rise: dt.date | None = None,
) -> LookingBack | None:
    """Return the answers as of one and two years before the analysis date.

    None without an analysis date, or where most lives have no dates. A rise of today's records, the
    last day before it given, counts today; what the records of an earlier day said stands.
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
        rise = None if years else before_rise
        run = run_rows(f"as of {day}", then.rows if years else rows, settings, left_out, rise)
        if not years and undated:
            dated = [r for r in rows if r.last_date is not None and has_beginning(r)]
            same_lives = run_rows(
                f"as of {day}, the lives with dates", dated, settings, left_out, rise
            )
            if same_lives is not None:
                runs.append(same_lives)
                dates.append(day)
        if run is not None:
            runs.append(run)
            dates.append(day)
    if len(runs) < 2:
        return None
    first, last, n = runs[0], runs[-1], count_left_out(left_out)
    now = runs[-2] if undated and len(runs) > 2 else last
    text = (
        f"As of {dates[0]} these records held {failures_told(int(first.n_failed), n)} in "
        f"{first.exposure_h:,.0f} h; now {failures_told(int(now.n_failed), n)} in "
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
        sentence=calendar_sentence(
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
