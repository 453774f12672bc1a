"""One line of a watch: failures since a baseline against those due at equal ages.

As in looking back (`shares`), a failure at t hours may have fallen on any life when that passed t
hours, so no curve is assumed and a baseline without a failure needs no shape. At each failure of
the watch every earlier one is tried as the first of a new rate.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.change.boundary import boundary, greatest_ratio, simulate_watch
from fleetstats.survival.change.ratio import RISES, ratio_by_count
from fleetstats.survival.change.shares import Lines, month_shares

DELAY_FLEETS = 1500
"""Made-up watches behind an expected delay."""

NONE_BEFORE = 0.7
"""Failures that a baseline without one is taken to have expected, for delays alone: the mean that
leaves none with even chance (``log 2``)."""

SHORTEST_DAYS = 30.0
"""Days over which a new rate is looked for at least: a failure's own day has no exposure at all."""


@value
class Delay(Value):
    """How long a watch takes to alarm when the rate is multiplied on its first day.

    `months` is the median; None where most watches end before. `chance` is that of an alarm within
    the watch.
    """

    factor: float
    months: float | None
    chance: float


@value
class WatchLine(Value):
    """One line of a watch.

    Parameters
    ----------
    n_before, n_since : int
        Failures of the baseline and of the watch so far.
    expected : float
        Failures due in the watch so far at the baseline's rate, age by age; 0 with none before.
    ratio : float
        Whole watch over baseline: in failures due, with none before in hours.
    told : float
        Greatest log likelihood ratio at any time of the watch.
    to_look, to_alarm : float
        What it must reach for either.
    first_day : float or None
        Ordinal day of the failure with which the new rate seems to begin, where `told` is
        greatest; None where nothing speaks for one.
    alarm_day, look_day : float or None
        Day on which the line reached either.
    n_at_alarm : int or None
        Failures of the watch by the alarm.
    delays : tuple of Delay
    """

    n_before: int
    n_since: int
    expected: float
    ratio: float
    told: float
    to_look: float
    to_alarm: float
    first_day: float | None = None
    alarm_day: float | None = None
    look_day: float | None = None
    n_at_alarm: int | None = None
    delays: tuple[Delay, ...] = ()

    @property
    def state(self) -> str:
        """Return "quiet", "look" or "alarm"; an alarm stays one to the end of the watch."""
        if self.alarm_day is not None:
            return "alarm"
        return "quiet" if self.look_day is None else "look"


def watch_line(
    lines: Lines,
    failed: ArrayLike,
    *,
    base_day: float,
    hours_ratio: float,
    months: float,
    chances: tuple[float, float],
    seed: int,
    factors: tuple[float, ...] = (2.0, 5.0),
) -> WatchLine:
    """Return one line of a watch.

    Parameters
    ----------
    lines : Lines
        All lives up to now, those that run carried to it.
    failed : (k,) int
        Lines that ended in a failure of this line, before the watch and in it.
    base_day : float
        Last day of the baseline, an ordinal.
    hours_ratio : float
        Hours of the whole watch, to its planned end, over those of the baseline.
    months : float
        The whole watch.
    chances : (float, float)
        Chances over the whole watch with which this line may look, and alarm, by accident.
    seed : int
        Of the delays.
    factors : tuple of float
        For which a delay is worked out.

    Raises
    ------
    FitError
        If nothing was at risk before the watch, or will be in it.
    """
    if not (np.isfinite(hours_ratio) and hours_ratio > 0.0):
        raise FitError(
            "No hours were flown before the watch, or none will be in it.",
            "Choose another first day of the watch.",
        )
    which = np.asarray(failed, dtype=np.int64)
    which = which[np.argsort(lines.end_day[which], kind="stable")]
    day = lines.end_day[which]
    before = int((day <= base_day).sum())
    told, first = _told(lines, which, before)
    due, ratio = _due(lines, which[:before], base_day), hours_ratio
    if before and due > 0.0:
        so_far = lines.hours_between(base_day, float(lines.end_day.max()))
        base_h = lines.hours_between(float(lines.entry_day.min()), base_day)
        # the months still to come are taken to bring failures due as their hours
        ratio = due / before + max(0.0, hours_ratio - so_far / base_h)
    look, alarm = (boundary(c, before, ratio) for c in chances)
    since = day[before:]
    at_alarm, at_look = _reached(told, alarm), _reached(told, look)
    best = int(told.argmax()) if len(told) and told.max() > 0.0 else None
    line = WatchLine(
        n_before=before,
        n_since=len(since),
        expected=due,
        ratio=ratio,
        told=float(told.max()) if len(told) else 0.0,
        to_look=look,
        to_alarm=alarm,
        first_day=None if best is None else float(since[first[best]]),
        alarm_day=None if at_alarm is None else float(since[at_alarm]),
        look_day=None if at_look is None else float(since[at_look]),
        n_at_alarm=None if at_alarm is None else at_alarm + 1,
    )
    return replace(line, delays=tuple(_delay(line, f, months, seed) for f in factors))


def _told(lines: Lines, which: Array, before: int) -> tuple[Array, Array]:
    """Return, at each failure of the watch, the greatest ratio and the failure it begins with."""
    day = lines.end_day[which]
    since = day[before:]
    told, first = np.zeros(len(since)), np.zeros(len(since), dtype=np.int64)
    if not len(since):
        return told, first
    # a quarter of a day apart, so that a failure lies after its start and before its now
    grid = np.unique(np.concatenate([since - 0.25, since + 0.25, since - SHORTEST_DAYS]))
    low, high = float(lines.entry_day.min()) - 1.0, float(lines.end_day.max()) + 1.0
    edge = np.concatenate([[min(low, grid[0] - 1.0)], grid, [max(high, grid[-1] + 1.0)]])
    passed = np.cumsum(month_shares(lines, which, edge).share, axis=1)[:, :-1]

    def by(d: float) -> Array:
        return np.asarray(passed[:, int(np.searchsorted(grid, d))])

    for i, now in enumerate(since.tolist()):
        n = before + i + 1
        until = by(now + 0.25)[:n]
        starts = np.minimum(since[: i + 1] - 0.25, now - SHORTEST_DAYS)
        share = np.stack([1.0 - by(d)[:n] / until for d in starts.tolist()], axis=1)
        table = ratio_by_count(np.clip(share, 0.0, 1.0), RISES)
        each = table[np.arange(i + 1), i + 1 - np.arange(i + 1)]
        first[i] = int(each.argmax())
        told[i] = each[first[i]]
    return told, first


def _due(lines: Lines, which: Array, base_day: float) -> float:
    """Return the failures due after `base_day` at the baseline's rate, age by age.

    The cumulative hazard is that of the baseline alone (Nelson 1972, Aalen 1978).
    """
    if not len(which):
        return 0.0
    low, high = float(lines.entry_day.min()) - 1.0, float(lines.end_day.max()) + 1.0
    share = month_shares(lines, which, (low, base_day, high)).share
    return float((share[:, 1] / share[:, 0]).sum())


def _reached(told: Array, bound: float) -> int | None:
    hit = np.flatnonzero(told >= bound)
    return int(hit[0]) if len(hit) else None


def _delay(line: WatchLine, factor: float, months: float, seed: int) -> Delay:
    """Simulate watches after this baseline whose rate is multiplied from the first day on."""
    mean = max(float(line.n_before), NONE_BEFORE)
    _, at = simulate_watch(mean, line.ratio, DELAY_FLEETS, seed=seed, factor=factor)
    told, _ = greatest_ratio(np.full(len(at), float(line.n_before)), at, line.ratio)
    hit = told >= line.to_alarm
    some = hit.any(axis=1)
    when = np.where(some, at[np.arange(len(at)), hit.argmax(axis=1)], np.inf)
    middle = float(np.median(when))
    return Delay(
        factor=factor,
        months=middle / line.ratio * months if np.isfinite(middle) else None,
        chance=float(some.mean()),
    )
