"""Lives and checks brought together: each engine's life cut at the faults that were mended."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, CheckLives
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling
from fleetstats.vocabulary.unknown import cause_known

FOUND_ENDINGS = ("found-at-check", "removed-finding")
"""Endings that are a finding at a check."""
SAME_H = 0.5
"""Hours within which a check and the end of a life are one event (meters are read to 0.1 h)."""
MERGE_H = 5.0
"""Checks of one engine closer than this are one visit to the shop."""

Row = tuple[str, float, float, float, int, Array, bool, str]


def build_check_lives(
    rows: Iterable[LifeRow], checks: Iterable[CheckRow], settings: Settings
) -> CheckLives:
    """Bring lives and checks together for the delay-time model.

    A life is cut where a check found a fault: the part up to there ends `FOUND`, and the rest
    begins free of faults if the fault was mended. If it was left in place the rest is not used up
    to the next mending. Failures of causes that say nothing of the engine, or that the shop did
    not confirm, only end the observation. Engines without check records get checks at the usual
    interval where ``[delay] assume_checks`` allows it (marked assumed), else are left out.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives in use.
    checks : iterable of CheckRow
        Checks, hours counted as the life records count.
    settings : Settings
        Tables check, delay and question.

    Returns
    -------
    CheckLives

    Raises
    ------
    SpellError
        If hours are out of order; the message names file and row of the life.
    """
    by_engine: dict[str, list[CheckRow]] = defaultdict(list)
    for c in checks:
        if c.result:
            by_engine[c.engine_id].append(c)
    out: list[Row] = []
    places: list[Origin] = []
    for row in rows:
        mine = by_engine.get(row.engine_id)
        if mine:
            out += _cut(row, mine, settings)
        elif settings.delay.assume_checks:
            out += [_assumed(row, settings)]
        places += [row.origin] * (len(out) - len(places))
    try:
        return CheckLives.of(_one_name_to_a_mode(out, settings))
    except SpellError as error:
        raise error.at(places) from None


def _one_name_to_a_mode(rows: list[Row], settings: Settings) -> list[Row]:
    """Return the rows with one spelling to a mode; lives and checks are written by two hands."""
    stated = (
        *settings.question.causes,
        *settings.check.undetectable_causes,
        *settings.question.censoring_causes,
    )
    shown = one_spelling(Counter(r[-1] for r in rows), known=stated)
    return [(*r[:-1], shown[fold(r[-1])] if cause_known(r[-1]) else "") for r in rows]


def _outcome(row: LifeRow, settings: Settings) -> tuple[int, str]:
    """What the end of a life is to the checks: clean, failed or found; and its mode."""
    of_engine_none = {fold(c) for c in settings.question.censoring_causes}
    if row.confirmed is False or fold(row.cause) in of_engine_none:
        return CLEAN, ""
    if row.ending == "failed":
        return FAILED, row.cause
    return (FOUND, row.cause) if row.ending in FOUND_ENDINGS else (CLEAN, "")


def _assumed(row: LifeRow, settings: Settings) -> Row:
    step = settings.check.interval_h
    kind, mode = _outcome(row, settings)
    end = row.exit_h
    if kind == FOUND:
        # Count back from the finding, through the last hours known good where those are given.
        gap = step if row.last_good_h is None else end - row.last_good_h
        before = end - gap - step * np.arange(int(end // step) + 1) if gap > 0 else np.zeros(0)
        ages = np.concatenate([before[before > 0.0][::-1], [end]])
    else:
        ages = np.arange(step, end, step)
    return row.engine, 0.0, row.entry_h, end, kind, np.unique(ages), True, mode


def _cut(row: LifeRow, mine: list[CheckRow], settings: Settings) -> list[Row]:
    kind, mode = _outcome(row, settings)
    shift, end = row.life_start_h, row.exit_h
    here = sorted(
        (c.hours_h - shift, i)
        for i, c in enumerate(mine)
        if 0.0 < c.hours_h - shift <= end + SAME_H
    )
    out: list[Row] = []
    start, entry = 0.0, row.entry_h
    ages: list[float] = []
    blind = False
    for hours, i in here:
        check, age = mine[i], min(hours, end)
        if ages and age - ages[-1] < MERGE_H and check.result != "found":
            continue
        last = age >= end - SAME_H
        if last and kind == FAILED:
            continue  # what was looked at after the failure warned of nothing
        if check.result != "found":
            if not blind and age > start:  # not a second look at the visit that found a fault
                ages.append(age)
            continue
        if not blind and age > max(entry, start):
            seen = np.array([*(a for a in ages if a < age), age])
            begun = max(entry, start)
            found = check.mode if cause_known(check.mode) else mode if last else ""
            out.append((row.engine, start, begun, age, FOUND, seen, False, found))
        if last:
            return out
        blind = not check.mended
        start, ages = age, []
    if blind or end <= max(entry, start):
        return out
    if kind == FOUND:
        ages = [*[a for a in ages if a < end - SAME_H], end]
    out.append(
        (row.engine, start, max(entry, start), end, kind, np.array(sorted(set(ages))), False, mode)
    )
    return out
