"""Days of a life's two ends: as told, or between the limits that the rest of the record allows.

In this order, for each life:

1. The day of the end is that of `LifeRow.last_date`; where hours were carried on, the analysis
   date. The day of entry is that on which observation began, else for a life followed from its
   start the day that it began.
2. Parts of one life (cut at a modification) and neighbouring lives of an engine share an end: where
   one of them begins at the hours at which the other ends, either date stands for both; between two
   known dates of the same chain of parts, hours pass evenly.
3. A life heard of late, with the day that it began and that of its end: even use since its start
   gives the likeliest day of entry; the limits are what slow and fast use allow between the two.
4. Only one end dated: the other lies off it by the hours of the life at slow, usual and fast use:
   the 5th, 50th and 95th percentile of the engines with both dates (of the same source where it
   has ten of them), and never past the analysis date, nor past a dated neighbour.

5. A date told as a span, "May 2023", stands in the middle; its first and last day are limits.

A life of which neither end is placed so stays without days.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.clocks.usage import DAYS_PER_YEAR, MOST_H_PER_YEAR, SHORTEST_DAYS
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.fold import fold

FEWEST_RATES = 10
"""Engines with both dates from which a source's own rates of use are taken, and below which all
records together give none (common practice, no source)."""

RATE_SHARES = (0.05, 0.50, 0.95)
"""Slow, usual and fast use, as shares of the engines with both dates (no source)."""


DATES_OF_ENDS = {"entry": ("observed_from", "in_service"), "exit": ("ended", "last_reading")}
"""The dates of a life that may place its entry and its end."""


def place_lives(rows: Sequence[LifeRow], until: dt.date | None) -> dict[str, Array]:
    """Return days of both ends of each life.

    Parameters
    ----------
    rows : sequence of LifeRow
        The lives, in any order.
    until : date or None
        Analysis date.

    Returns
    -------
    dict
        (n,) float ordinals under ``entry_day_low``, ``entry_day``, ``entry_day_high`` and the same
        of ``exit_day``; NaN where nothing places a life. Read-only, since they are kept.
    """
    told = _Told(rows)
    again = _lives_again(rows)
    entry, exit_ = told.ends(until)
    _share_ends(rows, again, entry, exit_)
    hours = told.exit_h - told.entry_h
    out = {
        f"{end}{side}": day.copy()
        for end, day in (("entry_day", entry), ("exit_day", exit_))
        for side in ("", "_low", "_high")
    }
    slow, usual, fast = _rates(rows, hours, entry, exit_)
    _heard_late(told, out, slow, fast)
    before, after = _neighbours(rows, again, told, out)
    _one_end(out, hours, (slow, usual, fast), before, _last_days(after, until))
    _coarse_days(rows, out)
    _drop_backward(out)
    for day in out.values():
        day.setflags(write=False)
    return out


class _Told:
    """Hours and dates of the rows as columns (n,): hours, and ordinals that are NaN where blank."""

    def __init__(self, rows: Sequence[LifeRow]) -> None:
        self.entry_h = np.array([x.entry_h for x in rows], dtype=np.float64)
        self.exit_h = np.array([x.exit_h for x in rows], dtype=np.float64)
        self.carried = np.array([x.carried_h > 0 for x in rows], dtype=bool)
        self.in_service = days_of([x.in_service for x in rows])
        self.observed = days_of([x.observed_from for x in rows])
        readings, ends = ([x.last_reading for x in rows], [x.ended for x in rows])
        self.last = np.fmax(days_of(readings), days_of(ends))  # as `LifeRow.last_date`

    def ends(self, until: dt.date | None) -> tuple[Array, Array]:
        """Return the days that the rows tell of entry and end; NaN where they do not."""
        carried = self.carried & (until is not None)
        exit_ = np.where(carried, np.nan if until is None else until.toordinal(), self.last)
        from_start = np.isnan(self.observed) & (self.entry_h <= 0.0)
        return np.where(from_start, self.in_service, self.observed), exit_


def days_of(days: Sequence[dt.date | None]) -> Array:
    """Return (n,) ordinals of days, NaN where one is not told."""
    return np.array([np.nan if d is None else d.toordinal() for d in days], dtype=np.float64)


def _lives_again(rows: Sequence[LifeRow]) -> list[list[int]]:
    """Return the rows of each engine that several rows tell of, in their order."""
    first: dict[str, int] = {}
    lives: dict[str, list[int]] = {}
    for i, x in enumerate(rows):
        if x.count == 1 and (name := x.engine_id) and (known := first.setdefault(name, i)) != i:
            lives.setdefault(name, [known]).append(i)
    return list(lives.values())


def _coarse_days(rows: Sequence[LifeRow], out: dict[str, Array]) -> None:
    """Widen the days of lives whose dates were told as spans, where those days are the dates."""
    for i in [i for i, x in enumerate(rows) if x.coarse]:
        x = rows[i]
        for end, names in DATES_OF_ENDS.items():
            for name in names:
                day, span = getattr(x, name), x.days_of(name)
                if span is None or out[f"{end}_day"][i] != day.toordinal():
                    continue
                out[f"{end}_day_low"][i] = min(out[f"{end}_day_low"][i], span[0].toordinal())
                out[f"{end}_day_high"][i] = max(out[f"{end}_day_high"][i], span[1].toordinal())
                break


def _share_ends(
    rows: Sequence[LifeRow], again: list[list[int]], entry: Array, exit_: Array
) -> None:
    """Let parts that meet share the day on which they do, and pass evenly between known days."""
    for mine in again:
        parts: dict[tuple[int, str], list[int]] = {}
        for i in mine:
            parts.setdefault((rows[i].life, fold(rows[i].source)), []).append(i)
        for group in parts.values():
            if len(group) > 1:
                group.sort(key=lambda i: rows[i].entry_h)
                for chain in _chains(rows, group):
                    _pass_evenly(rows, chain, entry, exit_)


def _chains(rows: Sequence[LifeRow], group: list[int]) -> list[list[int]]:
    chains = [[group[0]]]
    for i in group[1:]:
        if abs(rows[i].entry_h - rows[chains[-1][-1]].exit_h) < 1e-9:
            chains[-1].append(i)
        else:
            chains.append([i])
    return [c for c in chains if len(c) > 1]


def _pass_evenly(rows: Sequence[LifeRow], chain: list[int], entry: Array, exit_: Array) -> None:
    hours = np.array([rows[chain[0]].entry_h, *(rows[i].exit_h for i in chain)])
    days = np.full(len(hours), np.nan)
    days[0] = entry[chain[0]]
    for k, i in enumerate(chain):
        met = entry[chain[k + 1]] if k + 1 < len(chain) else np.nan
        days[k + 1] = exit_[i] if np.isfinite(exit_[i]) else met
    first = rows[chain[0]]
    known = np.isfinite(days)
    at, of = hours[known], days[known]
    if not known[0] and first.in_service is not None:
        at, of = np.append(0.0, at), np.append(float(first.in_service.toordinal()), of)
    if len(at) < 2 or np.any(np.diff(of) <= 0):
        return
    days = np.interp(hours, at, of, left=np.nan, right=np.nan)
    entry[chain], exit_[chain] = days[:-1], days[1:]


def _rates(
    rows: Sequence[LifeRow], hours: Array, entry: Array, exit_: Array
) -> tuple[Array, Array, Array]:
    """Return (n,) slow, usual and fast use in hours per day for each life; NaN where unknown."""
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = hours / (exit_ - entry)
    sound = np.isfinite(rate) & (exit_ - entry >= SHORTEST_DAYS)
    sound &= (rate > 0) & (rate * DAYS_PER_YEAR <= MOST_H_PER_YEAR)
    out = np.full((3, len(rows)), np.nan)
    if sound.sum() >= FEWEST_RATES:
        out[:] = np.quantile(rate[sound], RATE_SHARES)[:, None]
    number: dict[str, int] = {}
    source = np.array([number.setdefault(fold(x.source), len(number)) for x in rows], dtype=int)
    for one in np.unique(source[sound]):
        mine = sound & (source == one)
        if mine.sum() >= FEWEST_RATES:
            out[:, source == one] = np.quantile(rate[mine], RATE_SHARES)[:, None]
    return out[0], out[1], out[2]


def _heard_late(told: _Told, out: dict[str, Array], slow: Array, fast: Array) -> None:
    """Place the entry of lives of which the start and the end are dated, but not the entry."""
    end, born = out["exit_day"], told.in_service
    with np.errstate(invalid="ignore"):
        late = ~np.isfinite(out["entry_day"]) & (end > born) & (told.entry_h < told.exit_h)
    at = np.flatnonzero(late)
    end, born, slow, fast = end[at], born[at], slow[at], fast[at]
    entry_h, exit_h = told.entry_h[at], told.exit_h[at]
    even = born + (end - born) * entry_h / exit_h
    run = exit_h - entry_h
    # where no use is known, the two days are the limits
    low = np.fmax(born, np.fmax(end - run / slow, born + entry_h / fast))
    high = np.fmin(end, np.fmin(end - run / fast, born + entry_h / slow))
    out["entry_day"][at] = even
    out["entry_day_low"][at], out["entry_day_high"][at] = (
        np.minimum(low, even),
        np.maximum(high, even),
    )


def _one_end(
    out: dict[str, Array],
    hours: Array,
    rates: tuple[Array, Array, Array],
    before: Array,
    last: Array,
) -> None:
    """Place the end that is missing by the hours between, at slow, usual and fast use."""
    slow, usual, fast = rates
    known = np.isfinite(slow)
    no_entry = known & ~np.isfinite(out["entry_day"]) & np.isfinite(out["exit_day"])
    no_exit = known & np.isfinite(out["entry_day"]) & ~np.isfinite(out["exit_day"])
    for name, rate in (("_low", slow), ("", usual), ("_high", fast)):
        day = out["exit_day"][no_entry] - hours[no_entry] / rate[no_entry]
        out[f"entry_day{name}"][no_entry] = np.fmax(day, before[no_entry])
    for name, rate in (("_low", fast), ("", usual), ("_high", slow)):
        day = out["entry_day"][no_exit] + hours[no_exit] / rate[no_exit]
        out[f"exit_day{name}"][no_exit] = np.fmin(day, last[no_exit])


def _last_days(after: Array, until: dt.date | None) -> Array:
    """Return the last day that an end may have: none after the analysis date or a neighbour."""
    return np.fmin(np.inf if until is None else float(until.toordinal()), after)


def _neighbours(
    rows: Sequence[LifeRow], again: list[list[int]], told: _Told, out: dict[str, Array]
) -> tuple[Array, Array]:
    """Return the last known day of the engine's life before each, and the first of that after."""
    before, after = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    for mine in again:
        order = sorted(mine, key=lambda i: (rows[i].life_start_h + rows[i].entry_h, rows[i].life))
        for a, b in itertools.pairwise(order):
            before[b], after[a] = out["exit_day"][a], out["entry_day"][b]
    return np.where(np.isnan(before), told.in_service, before), after


def _drop_backward(out: dict[str, Array]) -> None:
    """Take the days off lives whose dates contradict each other."""
    with np.errstate(invalid="ignore"):
        bad = ~(out["exit_day"] > out["entry_day"])
    for day in out.values():
        day[bad] = np.nan
