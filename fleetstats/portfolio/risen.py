"""Is the last year worse than all years before it, at equal age: exactly, by counting.

The year before alone is a weak yardstick: it has a year's failures, all years before have the rest.
Each failure falls on the last year with the share of the lives that passed its age then, so their
number is a sum of independent yes-or-no draws (`survival/change/shares.py`).
"""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.records.life import LifeRow
from fleetstats.spells.days.dated import build_dated
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.change.carried import carry_lives
from fleetstats.survival.change.shares import month_shares
from fleetstats.survival.counting.count_law import poisson_binomial

YEAR_DAYS = 365.0

MOST_EXACT = 3_000
"""Failures up to which the count is worked out; the latest ones, where there are more."""


def chance_risen(rows: Sequence[LifeRow], spells: Spells, settings: Settings) -> float | None:
    """Return the chance of so many failures in the last year, or more, if nothing changed.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        Lives for the question.
    settings : Settings
        Analysis date, and how old a reading may be.

    Returns
    -------
    float or None
        None where no failure has a date, or hours lie on one side of the year's first day alone.
    """
    until = settings.study.analysis_date
    if until is None:
        return None
    last = float(until.toordinal())
    dated = build_dated(rows, spells, until=until)
    if not len(dated):
        return None
    known = carry_lives(dated, rows, last, stale_days=settings.hours.stale_days)
    lines, failed = known.lines, known.failures()
    edge = last - YEAR_DAYS
    if not len(failed) or lines.entry_day.min() >= edge or lines.end_day.max() <= edge:
        return None
    failed = failed[lines.end_day[failed].argsort(kind="stable")][-MOST_EXACT:]
    told = month_shares(lines, failed, (float(lines.entry_day.min()), edge, last))
    came = int((told.month == 1).sum())
    law = poisson_binomial(told.share[:, 1], most=len(failed))
    return float(min(1.0, law[came:].sum()))
