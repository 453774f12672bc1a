"""Lives as seen from a date on: late entry at the age then reached, and what became of the rest.

What ran and failed before the date says how engines were, not how they are. Every life that is not
counted has its reason, and no failure leaves the question for want of a date: one that no date
places before the day is kept, with no more than its last hour of exposure, since an engine that may
have failed before the day cannot lend its hours to the time after it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence

import numpy as np

from fleetstats.core.value import Array, Value, changed, value
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
    judged: Sequence[Judged],
    day: dt.date,
    until: dt.date | None,
    days: Mapping[str, Array] | None = None,
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
    days : mapping, optional
        The days of these lives, where `place_lives` was asked for them before.

    Returns
    -------
    judged : list of (LifeRow, Ruling)
        The same lives in the same order: those that ran on past the day enter at the age then
        reached, by even use; those not counted have a ruling of `OVER` or `UNDATED`.
    cut : SinceCut
        The account.
    """
    fate = _Fate(judged, day, until, days)
    out: list[Judged] = []
    n = {"over": 0, "failed_over": 0, "undated": 0, "undated_failed": 0, "open": 0}
    before_h = 0.0
    unplaced = Ruling(counts_as=UNDATED, reason="no date places it")
    ended = Ruling(counts_as=OVER, reason=f"ended by {day}")
    told = (fate.became, fate.age_h, fate.entered, fate.open)
    of_day = zip(judged, *(column.tolist() for column in told), strict=True)
    for (x, v), became, age, entered, open_ in of_day:
        if became == _AS_IT_IS:
            out.append((x, v))
        elif became == _LAST_HOUR:
            n["undated_failed"] += x.count
            out.append((_last_hour(x, v), v))
        elif became == _NO_DATE:
            n["undated"] += x.count
            out.append((x, unplaced))
        elif became == _OVER:
            n["over"] += x.count
            n["failed_over"] += x.count * (v.counts_as == "failure")
            before_h += x.count * (x.exit_h - x.entry_h)
            out.append((x, ended))
        else:
            n["open"] += x.count * open_
            later = _entered(x, age, day) if entered else x
            before_h += x.count * (later.entry_h - x.entry_h)
            out.append((later, v))
    return out, SinceCut(
        day=day, n_over=n["over"], failed_over=int(n["failed_over"]), hours_before=before_h,
        n_undated=n["undated"], undated_failed=n["undated_failed"], n_open=int(n["open"]),
    )  # fmt: skip


_AS_IT_IS, _LAST_HOUR, _NO_DATE, _OVER, _LATER = range(5)
"""What becomes of a life: no rule counts it, only its last hour counts, no date places it, it ended
by the day, or it counts from the age then reached."""


class _Fate:
    """What becomes of each life on a day, as columns (n,).

    `age_h` is the age from which on it counts, and `entered` says whether it is later than the
    life's own entry; `open` that a date of it is missing.
    """

    def __init__(
        self,
        judged: Sequence[Judged],
        day: dt.date,
        until: dt.date | None,
        days: Mapping[str, Array] | None,
    ) -> None:
        days = place_lives([x for x, _ in judged], until) if days is None else days
        at = float(day.toordinal())
        entry, exit_ = days["entry_day"], days["exit_day"]
        placed = np.isfinite(entry)
        failed = np.array([v.counts_as == "failure" for _, v in judged], dtype=bool)
        with np.errstate(invalid="ignore"):
            over = ~placed | (exit_ <= at)
            may_be_after = ~placed | (days["exit_day_high"] > at)
            self.open = (days["entry_day_low"] < days["entry_day_high"]) | (
                days["exit_day_low"] < days["exit_day_high"]
            )
        self.became = np.full(len(judged), _LATER)
        self.became[over] = _OVER
        self.became[~placed] = _NO_DATE
        self.became[over & failed & may_be_after] = _LAST_HOUR
        self.became[[v.counts_as == "excluded" for _, v in judged]] = _AS_IT_IS
        self.age_h = np.array([x.entry_h for x, _ in judged], dtype=np.float64)
        end_h = np.array([x.exit_h for x, _ in judged], dtype=np.float64)
        self.entered = (self.became == _LATER) & (entry < at)
        now = np.flatnonzero(self.entered)
        age, first = self.age_h[now], entry[now]
        self.age_h[now] = age + (at - first) / (exit_[now] - first) * (end_h[now] - age)


def ages_at(
    judged: Sequence[Judged],
    day: dt.date,
    until: dt.date | None,
    days: Mapping[str, Array] | None = None,
) -> Array:
    """Return (n,) hours at which each life enters the time after a day, as `cut_since` has it.

    Infinite where it does not.
    """
    fate = _Fate(judged, day, until, days)
    ages = fate.age_h.copy()
    for i in np.flatnonzero(fate.became == _LAST_HOUR).tolist():
        ages[i] = _last_hour(*judged[i]).entry_h
    ages[np.isin(fate.became, (_AS_IT_IS, _NO_DATE, _OVER))] = math.inf
    return ages


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


def _entered(x: LifeRow, age: float, day: dt.date) -> LifeRow:
    """Return a life that ran on past a day, entered at the age then reached."""
    return changed(
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
    return changed(x, entry_h=entry, entry_told=True, last_good_h=None)
