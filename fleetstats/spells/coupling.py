"""Lives paired anew, so that few rows say all that many said of a fleet.

What a fleet's likelihoods, counts at risk, exposure and product limits ask of its lives is when
they entered and how they ended, not which entry belongs to which end: log reliability at entry and
at the end are separate terms of a life's likelihood, and a count at risk is the entries before an
age less the ends before it. So the k-th earliest entry may go with the k-th earliest end. That
leaves at most as many rows as there are different entries and different ends together.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells.column_checks import starts_of_equal
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.spells.tally import row_names

MOST_WEIGHT = 2.0**52
"""Sums of whole weights up to this are exact."""

FINE = 1e-5
"""Step of rounded hours over the decade of the oldest age: 0.01 h where that is 1,000 h or more."""

DIGITS = 4
"""Digits kept of hours below a thousand steps, so that young ages keep their ratios."""


def couple_margins(spells: Spells) -> Spells:
    """Return spells with the same entries and the same ends, in as few rows as pairing allows.

    Each entry still comes before its end: the lives with the k earliest ends entered before the
    k-th of these, so at least k entries did. Labels are left out. Weights must be whole; where
    they are not, or where no row is saved, the spells come back as they are.

    Parameters
    ----------
    spells : Spells
        Of any kind; interval-known failures among them.

    Returns
    -------
    Spells
        At most as many rows as different entries and different ends, or `spells` itself.
    """
    w = spells.weight
    if not len(w) or (w != np.floor(w)).any() or w.sum() > MOST_WEIGHT:
        return spells
    entry, n_entry = _sums(np.sort(spells.entry, kind="stable"), spells.entry, w)
    # Exact ends go before intervals that begin at the same age: these may have entered just then.
    between = spells.interval_known
    order = np.lexsort((spells.event, spells.exit_upper, between, spells.exit_lower))
    columns = (spells.exit_lower, spells.exit_upper, spells.event)
    starts = starts_of_equal(columns, order)
    ends, n_end = [c[order[starts]] for c in columns], np.add.reduceat(w[order], starts)
    entered, ended = np.cumsum(n_entry), np.cumsum(n_end)
    cut = np.union1d(entered, ended)
    if len(cut) >= len(spells):
        return spells
    row = np.searchsorted(ended, cut, side="left")
    n = len(cut)
    blank = np.full(n, "")
    return Spells(
        unit=row_names(n),
        entry=entry[np.searchsorted(entered, cut, side="left")],
        exit_lower=ends[0][row],
        exit_upper=ends[1][row],
        event=ends[2][row].astype(np.int8),
        cause=blank,
        source=blank,
        build=blank,
        weight=np.diff(cut, prepend=0.0),
    )


def fine_step(spells: Spells) -> float:
    """Return the step in hours to which `round_ages` rounds ages of a thousand steps or more."""
    return float(FINE * 10.0 ** np.floor(np.log10(spells.oldest_h)))


def round_ages(spells: Spells) -> Spells:
    """Return the spells with hours rounded finely, for tables with more digits than meters have.

    Entries and exact ends go to the nearest step, the ends of an interval outwards; no life loses
    its length. The step is `fine_step`; below a thousand of it, hours keep four digits.

    Parameters
    ----------
    spells : Spells
        Of any kind.
    """
    step = fine_step(spells)
    between = spells.interval_known
    lower, upper = spells.exit_lower, spells.exit_upper
    low = np.where(between, _to_grid(lower, step, np.floor), _to_grid(lower, step, np.round))
    high = np.where(between, _to_grid(upper, step, np.ceil), low)
    # what begins at its own end, once rounded, begins a step before it
    before = _to_grid(high - 0.5 * _local_step(high, step), step, np.floor)
    last = np.where(between, low, before)
    entry = np.minimum(_to_grid(spells.entry, step, np.round), last)
    return spells.replace(entry=entry, exit_lower=low, exit_upper=high)


def coarsen(spells: Spells, step_h: float) -> Spells:
    """Return the spells with hours on a plain grid, where groups are compared and few rows must do.

    Entries and exact ends go to the nearest step, the ends of an interval outwards; a life that
    would lose its length ends one step after its entry.

    Parameters
    ----------
    spells : Spells
        Of any kind.
    step_h : float
        Hours between two points of the grid.
    """
    between = spells.interval_known
    entry = np.round(spells.entry / step_h) * step_h
    low = np.maximum(np.floor(spells.exit_lower / step_h) * step_h, entry)
    high = np.maximum(np.ceil(spells.exit_upper / step_h) * step_h, low + step_h)
    end = np.maximum(np.round(spells.exit_upper / step_h) * step_h, entry + step_h)
    return spells.replace(
        entry=entry,
        exit_lower=np.where(between, low, end),
        exit_upper=np.where(between, high, end),
    )


def part_running(spells: Spells, end_h: Array, count: Array) -> tuple[Spells, Array]:
    """Return the spells, those of engines that run on apart from other censored ones.

    Parameters
    ----------
    spells : Spells
        Of any kind.
    end_h, count : (k,) float
        Different hours, rising, at the end of lives that run on, and how many have each. At most
        as many censored lives are taken as end there: whose entry goes with which end is not asked.

    Returns
    -------
    spells : Spells
        The same lives; a row of both kinds is cut in two.
    runs : (n,) bool
        Which rows run on.
    """
    left = dict(zip(end_h.tolist(), count.tolist(), strict=True))
    weight = spells.weight
    mine = np.zeros(len(spells))
    for i in np.flatnonzero(spells.event == Event.CENSORED).tolist():
        end = float(spells.exit_upper[i])
        mine[i] = min(left.get(end, 0.0), float(weight[i]))
        left[end] = left.get(end, 0.0) - mine[i]
    both = (mine > 0.0) & (mine < weight)
    at = np.concatenate([np.arange(len(spells)), np.flatnonzero(both)])
    runs = np.append(mine > 0.0, np.zeros(int(both.sum()), dtype=bool))
    own = np.append(np.where(both, mine, weight), (weight - mine)[both])
    return spells.select(at).replace(weight=own), runs


def _local_step(hours: Array, step: float) -> Array:
    decade = 10.0 ** np.floor(np.log10(np.maximum(hours, 1e-300)))
    fine = decade * 10.0 ** (1 - DIGITS)
    return np.where(hours >= 10.0 ** (DIGITS - 1) * step, step, fine)


def _to_grid(hours: Array, step: float, how: Callable[[Array], Array]) -> Array:
    local = _local_step(hours, step)
    return np.where(hours > 0.0, how(hours / local) * local, 0.0)


def _sums(in_order: Array, value: Array, weight: Array) -> tuple[Array, Array]:
    """Return the different values in order, and the sum of weights of each."""
    first = np.ones(len(in_order), dtype=bool)
    first[1:] = in_order[1:] != in_order[:-1]
    different = in_order[first]
    return different, np.bincount(np.searchsorted(different, value), weights=weight)
