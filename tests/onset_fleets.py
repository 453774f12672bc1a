"""Fleets with dates drawn from a stated truth, as known on a day: for laws and coverage of changes.

Invented, by `fleetstats/demo/onset.py`: with its new way to fail, or without.
"""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace as NS
from typing import Any

import numpy as np

from fleetstats.demo.onset import ONSET, ONSET_CAUSE, OnsetLife
from fleetstats.spells import Spells
from fleetstats.spells.days.dated import Dated
from fleetstats.spells.event import Event
from fleetstats.survival.change.carried import CarriedLives, carry_lives

DAY = dt.timedelta(days=1)


def end_day(x: OnsetLife) -> float:
    return x.born_day + x.end_h / x.hours_per_day


def dated_on(lives: tuple[OnsetLife, ...], on: dt.date) -> tuple[Dated, list[Any]]:
    """Return the lives as a perfect return of that day has them, with rows that tell endings."""
    today = float(on.toordinal())
    kept = [x for x in lives if x.joined_day < today - 5 and end_day(x) > x.joined_day + 2]
    over = np.array([end_day(x) <= today for x in kept])
    until = np.array([min(end_day(x), today) for x in kept])
    ends = [(d - x.born_day) * x.hours_per_day for x, d in zip(kept, until, strict=True)]
    failed = over & np.array([x.ending == "failed" for x in kept])
    spells = Spells.of(
        [x.age_on(x.joined_day) for x in kept],
        ends,
        np.where(failed, Event.FAILED, Event.CENSORED),
        unit=[x.engine for x in kept],
        cause=[x.cause if f else "" for x, f in zip(kept, failed, strict=True)],
        source=[x.source for x in kept],
    )
    rows = [NS(ending=x.ending if o else "running") for x, o in zip(kept, over, strict=True)]
    return Dated.of(spells, [float(x.joined_day) for x in kept], until), rows


def known_on(lives: tuple[OnsetLife, ...], on: dt.date) -> CarriedLives:
    dated, rows = dated_on(lives, on)
    return carry_lives(dated, rows, float(on.toordinal()), stale_days=365)


def failed_between(lives: tuple[OnsetLife, ...], first: dt.date, last: dt.date) -> int:
    """Return how many of the engines flying on `first` fail by `last`."""
    a, b = first.toordinal(), last.toordinal()
    return sum(x.ending == "failed" and x.joined_day < a - 5 and a < end_day(x) <= b for x in lives)


def onset_days(lives: tuple[OnsetLife, ...]) -> list[float]:
    """Return days from the onset to each failure of the new way, the first of them first."""
    return sorted(
        end_day(x) - ONSET.toordinal()
        for x in lives
        if x.cause == ONSET_CAUSE and x.ending == "failed"
    )
