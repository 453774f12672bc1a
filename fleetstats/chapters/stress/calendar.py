"""From which of its own hours on each life lies in the last two years."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.clocks.usage import DAYS_PER_YEAR, use_rate
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings

YEARS = 2.0

LAST_PART = 1.0 / 3.0
"""Part of each life's hours that is taken as recent where no rate of use is known (no source)."""


def recent_from(rows: Sequence[LifeRow], settings: Settings) -> tuple[Array, str]:
    """Return (n,) hours of each life two years before the analysis date, and how they were told.

    A life's own rate of use carries its last reading back; one without a rate takes the middle of
    the others' (or the study's hours a year), one without a date the analysis date as its last.
    Where no rate is known at all, the last third of each life's hours counts as recent.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell.
    settings : Settings
        Analysis date, hours a year.
    """
    end = np.array([r.exit_h for r in rows], dtype=np.float64)
    entry = np.array([r.entry_h for r in rows], dtype=np.float64)
    day = settings.study.analysis_date
    own = [use_rate(r) for r in rows]
    known = [x for x in own if x is not None]
    yearly = settings.fleet.hours_per_year
    if day is None or not (known or yearly):
        return end - LAST_PART * (end - entry), (
            "no dates say how fast engines ran, so the last third of each life's hours stands for "
            "the last two years"
        )
    usual = float(np.median(known)) if known else float(yearly or 0.0) / DAYS_PER_YEAR
    rate = np.array([usual if x is None else x for x in own])
    turn = day - dt.timedelta(days=YEARS * DAYS_PER_YEAR)
    days = np.array([((r.last_date or day) - turn).days for r in rows], dtype=np.float64)
    undated = sum(x is None for x in own)
    told = "each engine's hours of the last two years follow from its own dates"
    if undated:
        told = (
            f"hours of the last two years follow from dates; {undated:,} of {len(rows):,} lives, "
            "without dates of their own, are taken to run as the others"
        )
        if not known:
            told = "hours of the last two years follow from the study's hours a year"
    return end - rate * days, told
