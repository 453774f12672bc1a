"""Lives as seen from a date on: late entry at the age then reached, and what became of the rest.

What ran and failed before the date says how engines were, not how they are. Every life that is not
counted has its reason, and no failure leaves the question for want of a date: one that no date
places before the day is kept, with no more than its last hour of exposure, since an engine that may
have failed before the day cannot lend its hours to the time after it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.days.day_limits import place_lives
from fleetstats.spells.spells import Spells

Judged = tuple[LifeRow, Ruling]
"""A life and what its ending counts as."""

KEPT_RUN_H = 1.0
"""Hours at risk of a failure that is kept without a date: too few to better any answer."""

OVER, UNDATED = "over", "undated"
"""What lives that are not counted count as, beside the words of a ruling."""

NOT_COUNTED = ("excluded", OVER, UNDATED)
"""What an ending counts as where the life is in no spell."""


@value
class SinceCut(Value):
    """What conditions since a date leave out and keep.

    Parameters
    ----------
    day : date
        What happened on it or before does not count.
    n_over, failed_over : int
        Lives that ended by then, and failures in question among them.
    hours_before : float
        Hours at risk up to the day, of these and of lives that go on.
    n_undated : int
        Lives without failure that no date places; they are not counted.
    undated_failed : int
        Failures in question that no date places before the day; they are counted.
    n_open : int
        Lives counted of which a date is missing, placed by the rates of use of the others.
    """

    day: dt.date
    n_over: int
    failed_over: int
    hours_before: float
    n_undated: int
    undated_failed: int
    n_open: int


def cut_since(
    judged: Sequence[Judged], day: dt.date, until: dt.date | None
) -> tuple[list[Judged], SinceCut]:
    """Return lives as seen from a date on.

    Parameters
    ----------
    judged : sequence of (LifeRow, Ruling)
        The lives and what their endings count as.
    day : date
        What happened on it or before does not count.
    until : date or None
        Analysis date.

    Returns
    -------
    judged : list of (LifeRow, Ruling)
        The same lives in the same order: those that ran on past the day enter at the age then
        reached, by even use; those not counted have a ruling of `OVER` or `UNDATED`.
    cut : SinceCut
        The account.
    """
    days = place_lives([x for x, _ in judged], until)
    at = float(day.toordinal())
    out: list[Judged] = []
    n = {"over": 0, "failed_over": 0, "undated": 0, "undated_failed": 0, "open": 0}
    before_h = 0.0
    for i, (x, v) in enumerate(judged):
        if v.counts_as == "excluded":
            out.append((x, v))
            continue
        entry, exit_ = float(days["entry_day"][i]), float(days["exit_day"][i])
        placed, failed = math.isfinite(entry), v.counts_as == "failure"
        may_be_after = not placed or float(days["exit_day_high"][i]) > at
        if (not placed or exit_ <= at) and failed and may_be_after:
            n["undated_failed"] += x.count
            out.append((_last_hour(x, v), v))
        elif not placed:
            n["undated"] += x.count
            out.append((x, Ruling(counts_as=UNDATED, reason="no date places it")))
        elif exit_ <= at:
            n["over"] += x.count
            n["failed_over"] += x.count * failed
            before_h += x.count * (x.exit_h - x.entry_h)
            out.append((x, Ruling(counts_as=OVER, reason=f"ended by {day}")))
        else:
            n["open"] += x.count * (
                days["entry_day_low"][i] < days["entry_day_high"][i]
                or days["exit_day_low"][i] < days["exit_day_high"][i]
            )
            later = _entered(x, entry, exit_, at, day)
            before_h += x.count * (later.entry_h - x.entry_h)
            out.append((later, v))
    return out, SinceCut(
        day=day, n_over=n["over"], failed_over=int(n["failed_over"]), hours_before=before_h,
        n_undated=n["undated"], undated_failed=n["undated_failed"], n_open=int(n["open"]),
    )  # fmt: skip


def ages_at(judged: Sequence[Judged], day: dt.date, until: dt.date | None) -> Array:
    """Return (n,) hours at which each life enters the time after a day, as `cut_since` has it.

    Infinite where it does not.
    """
    later, _ = cut_since(judged, day, until)
    return np.array([math.inf if v.counts_as in NOT_COUNTED else x.entry_h for x, v in later])


def after_rise(spells: Spells) -> Spells:
    """Return what of the spells lies after the rise that they know of; all where none is known.

    Spells of no known day, as those of failures that are only supposed, lie after it.
    """
    late = np.nan_to_num(spells.at_rise_h, nan=0.0, posinf=np.inf)
    part = spells.select(spells.exit_upper > late)
    entry = np.maximum(part.entry, np.nan_to_num(part.at_rise_h, nan=0.0))
    return part.replace(
        entry=entry,
        exit_lower=np.maximum(part.exit_lower, entry),
        at_rise_h=np.full(len(part), np.nan),
    )


def _entered(x: LifeRow, entry: float, exit_: float, at: float, day: dt.date) -> LifeRow:
    """Return a life that ran on past a day, entered at the age then reached."""
    if entry >= at:
        return x
    age = x.entry_h + (at - entry) / (exit_ - entry) * (x.exit_h - x.entry_h)
    return replace(
        x,
        entry_h=age,
        entry_told=True,
        observed_from=day,
        carried_h=min(x.carried_h, x.exit_h - age),
        last_good_h=x.last_good_h if (x.last_good_h or 0.0) > age else None,
    )


def _last_hour(x: LifeRow, v: Ruling) -> LifeRow:
    """Return a failed life with its last hour of exposure, or with the interval of its failure."""
    low = x.exit_h - KEPT_RUN_H
    if v.known_to == "interval":
        low = min(low, x.entry_h if x.last_good_h is None else x.last_good_h)
    low = low if x.exit_low_h is None else min(low, x.exit_low_h)
    entry = max(x.entry_h, low)
    return replace(x, entry_h=entry, entry_told=True, last_good_h=None)
