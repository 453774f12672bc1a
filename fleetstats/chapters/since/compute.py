"""The light answer of a study from what happened after a date."""

from __future__ import annotations

import datetime as dt

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.clocks_and_dates import run_spells
from fleetstats.chapters.since.values import SinceAnswer, SinceRuns
from fleetstats.chapters.since.words import say_since
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.spells.build import spells_for
from fleetstats.spells.days.dated import place_once
from fleetstats.spells.days.since import NOT_COUNTED, SinceCut, cut_since
from fleetstats.spells.spells import Spells

YEARS_SINCE = (5, 3, 1)
"""Years before the analysis date from which answers are shown (common practice, no source)."""

FEWEST_HOURS = 0.02
"""Share of all hours at risk that a line needs: with less it would only say that nothing is
known (no source)."""


def answers_since(base: Base, day: dt.date | float) -> SinceAnswer | None:
    """Return the light answer of a study from what happened after a day.

    Parameters
    ----------
    base : Results or LightBase
        The study, with the row of each life.
    day : date or float
        The day, as a date or an ordinal, rounded down.

    Returns
    -------
    SinceAnswer or None
        None where no row of a life is at hand (tables read by chunks), or no life ran after the
        day.
    """
    if not isinstance(day, dt.date):
        day = dt.date.fromordinal(int(day))
    built, settings = base.built, base.settings
    if not built.rows:
        return None
    judged = list(zip(built.rows, built.verdicts, strict=True))
    until = settings.study.analysis_date
    later, cut = cut_since(judged, day, until, place_once(built.rows, built.spells, until))
    kept = [(x, v) for x, v in later if v.counts_as not in NOT_COUNTED]
    if not kept:
        return None
    spells = spells_for(tuple(x for x, _ in kept), tuple(v for _, v in kept), settings)
    spells = spells.with_left_out(built.spells.left_out)
    return _answer(f"after {day}", spells, base, day, cut)


def chapter_since(base: Base) -> SinceRuns | None:
    """Return the answers since a few dates; None where no date would change what is counted."""
    today, own = base.settings.study.analysis_date, base.settings.study.since
    if today is None:
        return None
    found = []
    for years in YEARS_SINCE:
        day = today - dt.timedelta(days=round(DAYS_PER_YEAR * years))
        told = None if own is not None and day <= own else answers_since(base, day)
        if told is None or told.cut is None or told.cut.hours_before <= 0:
            continue
        if told.exposure_h >= FEWEST_HOURS * base.spells.exposure_h:
            found.append(told)
    if not found:
        return None
    name = "all dates" if own is None else f"all counted: after {own}"
    answers = (_answer(name, base.spells, base, None, None), *found)
    return SinceRuns(answers=answers, sentence=say_since(answers))


def _answer(
    name: str, spells: Spells, base: Base, day: dt.date | None, cut: SinceCut | None
) -> SinceAnswer:
    run, judged = run_spells(name, spells, base.settings)
    return SinceAnswer(
        day=day,
        run=run,
        claim=None if judged is None else judged.reliability,
        failure_high=None if judged is None else judged.failure_high,
        accepted=None if judged is None else 1.0 - judged.target,
        cut=cut,
    )
