"""Lives paired anew, so that few rows say all that many said of a fleet.

What a fleet's likelihoods, counts at risk, exposure and product limits ask of its lives is when
they entered and how they ended, not which entry belongs to which end: log reliability at entry and
at the end are separate terms of a life's likelihood, and a count at risk is the entries before an
age less the ends before it. So the k-th earliest entry may go with the k-th earliest end. That
leaves at most as many rows as there are different entries and different ends together.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells

MOST_WEIGHT = 2.0**52
"""Sums of whole weights up to this are exact."""


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
    ends = np.column_stack([spells.exit_lower, spells.exit_upper, spells.event])[order]
    first = np.ones(len(ends), dtype=bool)
    first[1:] = (ends[1:] != ends[:-1]).any(axis=1)
    starts = np.flatnonzero(first)
    ends, n_end = ends[starts], np.add.reduceat(w[order], starts)
    entered, ended = np.cumsum(n_entry), np.cumsum(n_end)
    cut = np.union1d(entered, ended)
    if len(cut) >= len(spells):
        return spells
    row = np.searchsorted(ended, cut, side="left")
    n = len(cut)
    blank = np.full(n, "")
    return Spells(
        unit=np.arange(n).astype(np.str_),
        entry=entry[np.searchsorted(entered, cut, side="left")],
        exit_lower=ends[row, 0],
        exit_upper=ends[row, 1],
        event=ends[row, 2].astype(np.int8),
        cause=blank,
        source=blank,
        build=blank,
        weight=np.diff(cut, prepend=0.0),
    )


def _sums(in_order: Array, value: Array, weight: Array) -> tuple[Array, Array]:
    """Return the different values in order, and the sum of weights of each."""
    first = np.ones(len(in_order), dtype=bool)
    first[1:] = in_order[1:] != in_order[:-1]
    different = in_order[first]
    return different, np.bincount(np.searchsorted(different, value), weights=weight)
