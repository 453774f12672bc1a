"""A watch over a study's records: failures since a day against those that the years before promise.

Three kinds of lines share the chance of a false alarm, whatever depends on what: all failures in
question, causes that the baseline knows, and causes that it does not. The third has half, since a
new way to fail is what a watch is for; the j-th new cause has ``1 / (j (j + 1))`` of it, so that
their number need not be known before.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from fleetstats.core.errors import RecordError
from fleetstats.core.gate import POSITIVE, gate
from fleetstats.core.value import Array
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.records.life import LifeRow
from fleetstats.spells.days.dated import build_dated
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.watch.baseline import find_baseline
from fleetstats.studies.watch.first import engines_first
from fleetstats.studies.watch.values import FleetWatch, WatchRow
from fleetstats.studies.watch.words import (
    line_sentence,
    watch_cautions,
    watch_screen,
    watch_sentence,
)
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, Study
from fleetstats.survival.change.carried import CarriedLives, carry_lives
from fleetstats.survival.change.watching import watch_line

GUARD_YEARS = 10.0
"""Years of watching, one baseline after another, over which the chance of a false alarm is held."""

LOOK_YEARS = 1.0
"""The same for a look, which is meant to be cheaper than an alarm."""

SHARES = {"all": 0.25, "cause": 0.25, "new": 0.5}
"""How the chance of a false alarm is shared over the kinds of lines."""

FACTORS = (2.0, 5.0)
"""Rates over that of the baseline whose expected delay is told."""

MONTHS = 12.0
"""Planned length of a watch."""


@gate(study=STUDY, months=POSITIVE)
def watch_fleet(
    study: Study,
    *,
    since: dt.date | None = None,
    on: dt.date | None = None,
    months: float = MONTHS,
    today: dt.date | None = None,
) -> FleetWatch:
    """Watch a study's records, with rows that were added since.

    Parameters
    ----------
    study : Study
        Its own files are read as they are now.
    since : date, optional
        Last day of the baseline; see `find_baseline` for where it comes from else.
    on : date, optional
        Day up to which is looked; the last date of the records, not after today, where not given.
    months : float
        Planned length of the watch. One that has gone on for longer is judged over its true length.
    today : date, optional
        No later date of the records is believed; by default the day of the machine, or the study's
        own date where that is later.

    Returns
    -------
    FleetWatch
        A line for all failures and one for each cause, each with its bound, and engines to look at
        first.

    Raises
    ------
    RecordError
        As a study's, or where no date places a life.
    SettingError
        If the baseline would end after the records.

    Examples
    --------
    >>> import fleetstats as fs
    >>> import datetime as dt
    >>> watch = fs.watch_fleet(fs.read_study("datasets/new-mode"), today=dt.date(2026, 11, 1))
    >>> print(watch.sentence)
    ALARM: 10 failures of cause 'gudgeon pin' since 2025-03-31, 0.32 were due at the rate ...
    """
    stated = study.settings.study.analysis_date or dt.date.min
    last_believed = max(stated, on or today or dt.date.today())
    open_study = _opened(study, last_believed)
    _, audit, built = read_lives_of(open_study)
    settings = open_study.settings
    until = on or max(stated, _last_date(built.rows))
    base_day, why = find_baseline(study, until, since)
    dated = build_dated(built.rows, built.spells, until=last_believed)
    known = carry_lives(
        dated,
        built.rows,
        float(until.toordinal()),
        stale_days=settings.hours.stale_days,
        n_undated=built.spells.n_failed - dated.spells.n_failed,
    )
    if not len(known.lines.entry_day):
        raise _nothing_dated(f"No life can be placed in the calendar by {until:%Y-%m-%d}")
    length = max(months, (until - base_day).days / DAYS_PER_YEAR * 12.0)
    lines = watch_lines(known, float(base_day.toordinal()), length, settings)
    twice = sum(f.code == "duplicate-life" for f in audit.findings)
    running = known.lines.weight[known.running]
    still = np.array([built.rows[i].ending == "running" for i in known.row.tolist()], dtype=bool)
    out = FleetWatch(
        base_day=base_day,
        until=until,
        end_day=base_day + dt.timedelta(days=round(length * DAYS_PER_YEAR / 12.0)),
        why_base=why,
        n_running=int(running.sum()),
        hours_before=known.lines.hours_between(_first(known), float(base_day.toordinal())),
        hours_since=known.lines.hours_between(float(base_day.toordinal()), known.until),
        lines=lines,
        first=(),
        false_alarm=settings.forecast.false_alarm,
        looks=settings.forecast.false_alarm,
        n_undated=known.n_undated,
        n_stale=int(known.lines.weight[still & ~known.running].sum()),
        n_twice=twice,
    )
    out = replace(out, lines=tuple(replace(x, sentence=line_sentence(x)) for x in lines))
    out = replace(out, first=engines_first(out, known, built.rows))
    out = replace(out, sentence=watch_sentence(out), cautions=watch_cautions(out))
    return replace(out, screen=tuple(watch_screen(out)))


def _opened(study: Study, last_believed: dt.date) -> Study:
    """Return the study with its date moved on and rows told again let in; nothing is carried."""
    s = study.settings
    actions = {"duplicate-life": "set-aside", **s.treat.actions}
    settings = replace(
        s,
        study=replace(s.study, analysis_date=last_believed),
        hours=replace(s.hours, carry_to_analysis_date=False),
        treat=replace(s.treat, actions=actions),
    )
    return replace(study, settings=settings)


def _last_date(rows: tuple[LifeRow, ...]) -> dt.date:
    dates = [d for r in rows if (d := r.last_date) is not None]
    if not dates:
        raise _nothing_dated("No life of the records has a date")
    return max(dates)


def _nothing_dated(why: str) -> RecordError:
    return RecordError(
        f"{why}, so nothing can be watched over time.",
        "Give the date of the last reading and of the end, and the day of entering service.",
    )


def _first(known: CarriedLives) -> float:
    return float(known.lines.entry_day.min())


def watch_lines(
    known: CarriedLives,
    base_day: float,
    months: float,
    settings: Settings,
    factors: tuple[float, ...] = FACTORS,
) -> tuple[WatchRow, ...]:
    """Return all failures in question, then each cause, known ones before new ones.

    Parameters
    ----------
    known : CarriedLives
        Lives up to now.
    base_day : float
        Last day of the baseline, an ordinal.
    months : float
        The whole watch.
    settings : Settings
        Chance of a false alarm, seed.
    factors : tuple of float
        Rates whose delay is worked out, for all failures together.
    """
    day = known.lines.end_day
    before = known.failed & (day <= base_day)
    seen = sorted(set(known.cause[before].tolist()) - {""})
    since = np.flatnonzero(known.failed & (day > base_day))
    order = since[np.argsort(day[since], kind="stable")]
    new = [c for c in dict.fromkeys(known.cause[order].tolist()) if c and c not in seen]
    asked = [("all", "", SHARES["all"], known.asked)]
    asked += [("cause", c, SHARES["cause"] / len(seen), known.cause == c) for c in seen]
    asked += [
        ("new", c, SHARES["new"] / (j * (j + 1)), known.cause == c)
        for j, c in enumerate(new, start=1)
    ]
    return tuple(
        _one(
            known,
            by,
            name,
            share,
            keep,
            base_day=base_day,
            months=months,
            settings=settings,
            factors=factors if by == "all" else (),
        )
        for by, name, share, keep in asked
    )


def _one(
    known: CarriedLives,
    by: str,
    name: str,
    share: float,
    keep: Array,
    *,
    base_day: float,
    months: float,
    settings: Settings,
    factors: tuple[float, ...],
) -> WatchRow:
    lines, years = known.lines, months / 12.0
    base_h = lines.hours_between(_first(known), base_day)
    gone_h = lines.hours_between(base_day, known.until)
    days = max(known.until - base_day, 1.0)
    # the months to come are taken to bring hours at the pace so far
    whole_h = gone_h * max(1.0, years * DAYS_PER_YEAR / days)
    stated = settings.forecast.false_alarm * share * years
    line = watch_line(
        lines,
        known.failures(keep),
        base_day=base_day,
        hours_ratio=whole_h / base_h if base_h > 0 else float("inf"),
        months=months,
        chances=(stated / LOOK_YEARS, stated / GUARD_YEARS),
        seed=settings.study.seed,
        factors=factors,
    )
    return WatchRow(by=by, name=name, share=share, line=line)
