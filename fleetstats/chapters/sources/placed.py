"""Places among hours that lie on straight lines between two days, for very many at once.

To compare each that is placed with every line on its day costs lines times days. Here days that
follow each other are taken together: a line whose hours stay below a place on all of these days is
counted by sorting, and only one that may cross it, begins or ends then is worked out on the day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class HourLines:
    """Hours of engines between two days: `first` and `last` (n,) ordinals, first before last."""

    first: Array
    last: Array
    first_h: Array
    last_h: Array

    def select(self, which: Array) -> HourLines:
        """Return some of the lines, by place or by whether each is wanted."""
        return HourLines(
            first=self.first[which],
            last=self.last[which],
            first_h=self.first_h[which],
            last_h=self.last_h[which],
        )

    def hours_on(self, day: Array | int) -> Array:
        """Return (n,) hours on a day, or each on its own."""
        share = (day - self.first) / (self.last - self.first)
        return np.asarray(self.first_h + share * (self.last_h - self.first_h))


def place_among(lines: HourLines, day: Array, hours: Array) -> tuple[Array, Array]:
    """Return how many lines lie below each place on its day, and how many are there at all.

    Parameters
    ----------
    lines : HourLines
        From the first to the last day of each, both counted.
    day : (m,) int
        Ordinals.
    hours : (m,) float
        Hours of each place.

    Returns
    -------
    below, there : (m,) int
        As though each were compared with each, to the last bit.
    """
    there = np.searchsorted(np.sort(lines.first), day, side="right")
    there -= np.searchsorted(np.sort(lines.last), day, side="left")
    below = np.zeros(len(day), dtype=np.int64)
    order = np.argsort(day, kind="stable")
    # what is sorted grows with the parts, what is compared falls with them
    for some in np.array_split(order, max(1, round(len(day) ** 0.5))):
        if len(some):
            below[some] = _below(lines, day[some], hours[some])
    return below, there


def _below(lines: HourLines, day: Array, hours: Array) -> Array:
    """Return how many lines lie below each place, on rising days."""
    begin, end = int(day[0]), int(day[-1])
    through = (lines.first <= begin) & (lines.last >= end)
    some = (lines.first <= end) & (lines.last >= begin) & ~through
    out = _compared(lines.select(np.flatnonzero(some)), day, hours)
    part = lines.select(np.flatnonzero(through))
    # along a line hours rise or fall, so that those on the outer days are the limits
    at_both = part.hours_on(begin), part.hours_on(end)
    low, high = np.minimum(*at_both), np.maximum(*at_both)
    order = np.argsort(low)
    low, part = low[order], part.select(order)
    widest = float((high[order] - low).max(initial=0.0))
    stop = np.searchsorted(low, hours, side="left")  # the first that surely is not below
    start = np.searchsorted(low, hours - widest * (1.0 + 1e-9) - 1e-9, side="left")
    return out + start + _crossing(part, day, hours, start, stop)


def _compared(lines: HourLines, day: Array, hours: Array) -> Array:
    """Return how many lines lie below each place, each compared with each."""
    on = (lines.first <= day[:, None]) & (lines.last >= day[:, None])
    return np.asarray((on & (lines.hours_on(day[:, None]) < hours[:, None])).sum(axis=1))


def _crossing(part: HourLines, day: Array, hours: Array, start: Array, stop: Array) -> Array:
    """Return how many of the lines `start` to `stop` lie below each place."""
    n = stop - start
    whose = np.repeat(np.arange(len(day)), n)
    line = np.arange(len(whose)) - np.repeat(np.cumsum(n) - n - start, n)
    lower = part.select(line).hours_on(day[whose]) < hours[whose]
    return np.bincount(whose[lower], minlength=len(day))
