"""Lives as lines up to a date, with the running ones carried to it at their own use.

A failure is told at once, hours with the next return. Between the two the records hold failures
without the hours that the other engines flew meanwhile, and any rate looks risen; so running
engines are taken to have flown on since their last reading. One not read for long is not.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array, Bools, Ints, Texts, Value, value
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.records.life import LifeRow
from fleetstats.spells.days.dated import Dated
from fleetstats.spells.event import Event
from fleetstats.spells.running import LEAST_DAYS, MOST_USE_H
from fleetstats.survival.change.shares import Lines


@value
class CarriedLives(Value):
    """Lives up to a date as lines, with what became of them by then.

    Parameters
    ----------
    until : float
        The date, an ordinal day.
    lines : Lines
        One to a life, carried to the date where it runs.
    failed : (n,) bool
        Whether it ended by then in a failure, in question or of another cause.
    asked : (n,) bool
        Whether in one in question.
    running : (n,) bool
        Whether it is carried to the date.
    cause, build, source, unit : (n,) str
        Labels; the cause of failures only.
    row : (n,) int
        Number of each life among the study's spells.
    n_undated : float
        Failures in question that no date places; they are in no line.
    """

    until: float
    lines: Lines
    failed: Bools
    asked: Bools
    running: Bools
    cause: Texts
    build: Texts
    source: Texts
    unit: Texts
    row: Ints
    n_undated: float

    def failures(self, keep: Array | None = None) -> Array:
        """Return (k,) numbers of lines that failed in question, or of those among `keep`.

        A line of weight 2 stands twice.
        """
        which = np.flatnonzero(self.asked if keep is None else keep & self.failed)
        return np.repeat(which, np.rint(self.lines.weight[which]).astype(int))


def carry_lives(
    dated: Dated,
    rows: Sequence[LifeRow],
    until: float,
    *,
    stale_days: float,
    n_undated: float = 0.0,
) -> CarriedLives:
    """Return the lives as known on a date.

    Parameters
    ----------
    dated : Dated
        Lives with their days.
    rows : sequence of LifeRow
        The rows of the study's spells, as `Dated.row` counts them.
    until : float
        The date as an ordinal day. What came later is not known on it.
    stale_days : float
        A running engine not read for longer is not carried.
    n_undated : float
        Failures in question without dates, to be told along.
    """
    s = dated.spells
    day = dated.end_day
    known = np.asarray(day <= until)
    still = np.array([rows[i].ending == "running" for i in dated.row.tolist()], dtype=bool)
    # one that ends after the date was running on it, and flew on to it
    end_h = np.where(known, dated.end_h, dated.age_at(until))
    end_day = np.minimum(day, until)
    use = _use(dated)
    gap = np.where(still & known & (until - day <= stale_days), until - day, 0.0)
    end_h, end_day = end_h + gap * use, end_day + gap
    keep = (dated.entry_day < until) & (end_h > s.entry) & (end_day > dated.entry_day)
    over = known & np.isin(s.event, (Event.FAILED.value, Event.COMPETING.value))
    failed = over & np.array([rows[i].ending == "failed" for i in dated.row.tolist()], dtype=bool)
    asked = known & s.failed
    return CarriedLives(
        until=float(until),
        lines=Lines(
            entry_h=s.entry[keep],
            end_h=end_h[keep],
            entry_day=dated.entry_day[keep],
            end_day=end_day[keep],
            weight=s.weight[keep],
        ),
        failed=(failed | asked)[keep],
        asked=asked[keep],
        running=((still & (until - day <= stale_days)) | ~known)[keep],
        cause=np.where(failed | asked, s.cause, "")[keep],
        build=s.build[keep],
        source=s.source[keep],
        unit=s.unit[keep],
        row=dated.row[keep],
        n_undated=n_undated,
    )


def _use(dated: Dated) -> Array:
    """Return (n,) hours a day: each engine's own over `LEAST_DAYS` or more, else the median."""
    own = dated.hours_per_day
    good = (dated.exit_day - dated.entry_day >= LEAST_DAYS) & (own <= MOST_USE_H / DAYS_PER_YEAR)
    usual = float(np.median(own[good])) if good.any() else float(np.median(own)) if len(own) else 0
    return np.asarray(np.where(good, own, min(usual, MOST_USE_H / DAYS_PER_YEAR)))
