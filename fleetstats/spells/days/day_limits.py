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
        of ``exit_day``; NaN where nothing places a life.
    """
    entry, exit_ = _told(rows, until)
    _share_ends(rows, entry, exit_)
    hours = np.array([x.exit_h - x.entry_h for x in rows])
    out = {
        f"{end}{side}": day.copy()
        for end, day in (("entry_day", entry), ("exit_day", exit_))
        for side in ("", "_low", "_high")
    }
    slow, usual, fast = _rates(rows, hours, entry, exit_)
    _heard_late(rows, out, slow, fast)
    _one_end(rows, out, hours, (slow, usual, fast), until)
    _coarse_days(rows, out)
    _drop_backward(out)
    return out


def _told(rows: Sequence[LifeRow], until: dt.date | None) -> tuple[Array, Array]:
    """Return the days that the rows tell; NaN where they do not."""
    entry, exit_ = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    for i, x in enumerate(rows):
        last = until if x.carried_h > 0 and until is not None else x.last_date
        if last is not None:
            exit_[i] = last.toordinal()
        if x.observed_from is not None:
            entry[i] = x.observed_from.toordinal()
        elif x.in_service is not None and x.entry_h <= 0.0:
            entry[i] = x.in_service.toordinal()
    return entry, exit_


def _coarse_days(rows: Sequence[LifeRow], out: dict[str, Array]) -> None:
    """Widen the days of lives whose dates were told as spans, where those days are the dates."""
    for i, x in enumerate(rows):
        if not x.coarse:
            continue
        for end, names in DATES_OF_ENDS.items():
            for name in names:
                day, span = getattr(x, name), x.days_of(name)
                if span is None or out[f"{end}_day"][i] != day.toordinal():
                    continue
                out[f"{end}_day_low"][i] = min(out[f"{end}_day_low"][i], span[0].toordinal())
                out[f"{end}_day_high"][i] = max(out[f"{end}_day_high"][i], span[1].toordinal())
                break


def _share_ends(rows: Sequence[LifeRow], entry: Array, exit_: Array) -> None:
    """Let parts that meet share the day on which they do, and pass evenly between known days."""
    parts: dict[tuple[str, int, str], list[int]] = {}
    for i, x in enumerate(rows):
        if x.engine_id and x.count == 1:
            parts.setdefault((x.engine_id, x.life, fold(x.source)), []).append(i)
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
    source = np.array([fold(x.source) for x in rows], dtype=np.str_)
    for name in np.unique(source[sound]):
        mine = sound & (source == name)
        if mine.sum() >= FEWEST_RATES:
            out[:, source == name] = np.quantile(rate[mine], RATE_SHARES)[:, None]
    return out[0], out[1], out[2]


def _heard_late(rows: Sequence[LifeRow], out: dict[str, Array], slow: Array, fast: Array) -> None:
    """Place the entry of lives of which the start and the end are dated, but not the entry."""
    for i, x in enumerate(rows):
        end = out["exit_day"][i]
        if np.isfinite(out["entry_day"][i]) or not np.isfinite(end) or x.in_service is None:
            continue
        born = float(x.in_service.toordinal())
        if end <= born or x.entry_h >= x.exit_h:
            continue
        even = born + (end - born) * x.entry_h / x.exit_h
        low, high = born, end
        if np.isfinite(slow[i]):
            run = x.exit_h - x.entry_h
            low = max(low, end - run / slow[i], born + x.entry_h / fast[i])
            high = min(high, end - run / fast[i], born + x.entry_h / slow[i])
        out["entry_day"][i] = even
        out["entry_day_low"][i], out["entry_day_high"][i] = min(low, even), max(high, even)


def _one_end(
    rows: Sequence[LifeRow],
    out: dict[str, Array],
    hours: Array,
    rates: tuple[Array, Array, Array],
    until: dt.date | None,
) -> None:
    """Place the end that is missing by the hours between, at slow, usual and fast use."""
    slow, usual, fast = rates
    known = np.isfinite(slow)
    no_entry = known & ~np.isfinite(out["entry_day"]) & np.isfinite(out["exit_day"])
    no_exit = known & np.isfinite(out["entry_day"]) & ~np.isfinite(out["exit_day"])
    before, after = _neighbours(rows, out)
    for name, rate in (("_low", slow), ("", usual), ("_high", fast)):
        day = out["exit_day"][no_entry] - hours[no_entry] / rate[no_entry]
        out[f"entry_day{name}"][no_entry] = np.fmax(day, before[no_entry])
    last = np.full(len(rows), np.inf if until is None else float(until.toordinal()))
    last = np.fmin(last, after)
    for name, rate in (("_low", fast), ("", usual), ("_high", slow)):
        day = out["entry_day"][no_exit] + hours[no_exit] / rate[no_exit]
        out[f"exit_day{name}"][no_exit] = np.fmin(day, last[no_exit])


def _neighbours(rows: Sequence[LifeRow], out: dict[str, Array]) -> tuple[Array, Array]:
    """Return the last known day of the engine's life before each, and the first of that after."""
    before, after = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    lives: dict[str, list[int]] = {}
    for i, x in enumerate(rows):
        if x.engine_id and x.count == 1:
            lives.setdefault(x.engine_id, []).append(i)
    for mine in lives.values():
        mine.sort(key=lambda i: (rows[i].life_start_h + rows[i].entry_h, rows[i].life))
        for a, b in itertools.pairwise(mine):
            before[b], after[a] = out["exit_day"][a], out["entry_day"][b]
    for i, x in enumerate(rows):
        if np.isnan(before[i]) and x.in_service is not None:
            before[i] = x.in_service.toordinal()
    return before, after


def _drop_backward(out: dict[str, Array]) -> None:
    """Take the days off lives whose dates contradict each other."""
    with np.errstate(invalid="ignore"):
        bad = ~(out["exit_day"] > out["entry_day"])
    for day in out.values():
        day[bad] = np.nan
