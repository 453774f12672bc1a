"""Has the rate at equal ages changed over the calendar: of all, each cause, build and source?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.chapters.change.since import AnswerSince, claim_since
from fleetstats.chapters.change.values import Changed, ChangeLine
from fleetstats.chapters.change.words import change_cautions, change_sentence, line_words
from fleetstats.core.kept import Same, kept
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.records.clocks.usage import calendar_year
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.days.dated import Dated, build_dated
from fleetstats.study.settings import Settings
from fleetstats.survival.change.carried import CarriedLives, carry_lives
from fleetstats.survival.change.evidence import Mixture, mix_changes, weigh_change
from fleetstats.survival.change.power import change_power
from fleetstats.survival.change.scan import Change, scan_change
from fleetstats.survival.change.shares import Lines, MonthShares, month_edges, part_shares
from fleetstats.survival.groups.rate_ratio import hold_over
from fleetstats.vocabulary.limits import HONEST_P, LEAST_TO_CHANGE

DRAWS = 2000
"""Draws of what the rate is now, for the forecast."""

FACTORS = (2.0, 5.0)
"""Changes whose chance of being seen is told."""

YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True)
class Subject:
    """Failures that are asked about together."""

    by: str
    name: str
    asked: bool
    shares: MonthShares


def advise_change(
    rows: Sequence[LifeRow],
    spells: Spells,
    settings: Settings,
    answer: AnswerSince | None = None,
) -> Changed | None:
    """Return the chapter on changes; None where no date places a life.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        Lives for the study's question.
    settings : Settings
        Analysis date, claim, confidence, seed, how old a reading may be.
    answer : callable, optional
        Answers from what happened after a day, for the claim since a rise; none is made without.

    Notes
    -----
    Chances are held over all subjects (Holm 1979), and within each over all dates.
    """
    out = scan_lives(rows, spells, settings)
    if out is None:
        return None
    leads = out.leads
    if leads is not None and answer is not None:
        out = replace(out, since=claim_since(leads, answer, settings))
    return replace(
        out,
        sentence=change_sentence(out),
        told=tuple(line_words(x) for x in out.lines),
        cautions=change_cautions(out),
    )


def scan_lives(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings, *, made: Changed | None = None
) -> Changed | None:
    """Return what `advise_change` does, before anything is said of it; made once for its lives.

    `made` is what was found for them when they did not yet know of it.
    """
    study = settings.study
    until = study.analysis_date
    if until is None or len(rows) != len(spells):
        return None
    key = ("changes", Same(rows), until, study.confidence, study.seed, settings.hours.stale_days)
    return kept(spells, key, lambda: _scan(rows, spells, settings, until) if made is None else made)


def _scan(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings, until: dt.date
) -> Changed | None:
    dated = build_dated(rows, spells, until=until)
    known = carried_to(dated, rows, spells, until, settings)
    if len(known.lines) < 2:
        return None
    found = subjects_of(known)
    level, seed = settings.study.confidence, settings.study.seed
    flag = HONEST_P / max(1, len(found))
    scans = [
        scan_change(x.shares, seed=seed, name=f"{x.by}-{x.name}", level=level, flag=flag)
        for x in found
    ]
    made = [(x, c) for x, c in zip(found, scans, strict=True) if c is not None]
    held = hold_over([c.p_value for _, c in made]).tolist()
    lines = tuple(_line(known.lines, x, c, p) for (x, c), p in zip(made, held, strict=True))
    first = dt.date.fromordinal(int(known.lines.entry_day.min()))
    out = Changed(
        lines=lines,
        first_day=first,
        last_day=until,
        months=np.zeros(0),
        seen=np.zeros(0),
        due=np.zeros(0),
        n_undated=known.n_undated,
        n_carried=int(known.lines.weight[known.running].sum()),
        mixture=mix_now(found, seed),
        since=None,
        level=level,
    )
    leads = out.leads
    if leads is not None:
        shares = made[lines.index(leads)][0].shares
        years = np.array(
            [calendar_year(dt.date.fromordinal(int(d))) for d in shares.edge_day[1:].tolist()]
        )
        out = replace(
            out,
            months=years,
            seen=np.cumsum(shares.counts),
            due=np.cumsum(shares.expected),
        )
    return out


def carried_to(
    dated: Dated, rows: Sequence[LifeRow], spells: Spells, until: dt.date, settings: Settings
) -> CarriedLives:
    """Return the lives as known on a date, running ones flown on to it."""
    return carry_lives(
        dated,
        rows,
        float(until.toordinal()),
        stale_days=settings.hours.stale_days,
        n_undated=spells.n_failed - dated.spells.n_failed,
    )


def mix_on(
    rows: Sequence[LifeRow], spells: Spells, day: dt.date, settings: Settings
) -> Mixture | None:
    """Return what the rate was on a day over what all years before it show; None without dates.

    Parameters
    ----------
    rows, spells, settings
        As `advise_change`.
    day : date
        What came later is not known.
    """
    if len(rows) != len(spells):
        return None
    dated = build_dated(rows, spells, until=settings.study.analysis_date)
    known = carried_to(dated, rows, spells, day, settings)
    if len(known.lines) < 2:
        return None
    return mix_now(subjects_of(known, groups=False), settings.study.seed)


def mix_now(found: Sequence[Subject], seed: int) -> Mixture | None:
    """Return draws of the rate in question now, over all failures in question and its causes."""
    asked = [x for x in found if x.asked and x.by in ("all", "cause")]
    n_all = float(sum(len(x.shares) for x in asked if x.by == "all"))
    weighed = [weigh_change(x.shares, n_all) for x in asked]
    return mix_changes([w for w in weighed if w is not None], DRAWS, stream(seed, "change-now"))


def subjects_of(known: CarriedLives, *, groups: bool = True) -> list[Subject]:
    """Return what is scanned: all in question, each cause, and of `groups` each build and source.

    Each needs `LEAST_TO_CHANGE` failures; builds and sources are asked where there are two.
    """
    lines = known.lines
    edges = month_edges(float(lines.entry_day.min()), known.until)
    which = known.failures(known.failed)
    labelled = [
        (by, n, getattr(known, by) == n)
        for by in (("build", "source") if groups else ())
        if len(names := _names(getattr(known, by))) > 1
        for n in names
    ]
    theirs = [(mine, known.failures(known.asked & mine)) for _, _, mine in labelled]
    shares, *of_groups = part_shares(lines, edges, [(None, which), *theirs])
    asked, cause = known.asked[which], known.cause[which]
    found = [Subject("all", "", True, shares.select(asked))]
    for name in _names(cause):
        for in_question in (True, False):
            part = (cause == name) & (asked == in_question)
            if in_question and part.sum() == asked.sum():
                continue  # one cause alone: it is asked already, as all
            found.append(Subject("cause", name, in_question, shares.select(part)))
    found += [
        Subject(by, n, True, own) for (by, n, _), own in zip(labelled, of_groups, strict=True)
    ]
    return [x for x in found if len(x.shares) >= LEAST_TO_CHANGE]


def _names(labels: Array) -> list[str]:
    return [n for n in np.unique(labels).tolist() if n]


def _line(lines: Lines, subject: Subject, change: Change, p_held: float) -> ChangeLine:
    shares = subject.shares
    last_year = shares.edge_day[:-1] >= shares.edge_day[-1] - YEAR_DAYS - 16.0
    after = float(shares.expected[last_year].sum())
    return ChangeLine(
        by=subject.by,
        name=subject.name,
        asked=subject.asked,
        hours_before=lines.hours_between(float(lines.entry_day.min()), change.day - 1.0),
        change=change,
        p_held=p_held,
        powers=tuple(change_power(len(shares) - after, after, f, change.critical) for f in FACTORS),
    )
