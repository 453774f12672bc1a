"""Rows of a very long table by ranges of their engines' numbers: a part of them in hand at a time.

All rows of one engine lie in one range, and the ranges follow each other as the numbers do, so what
is found in them one by one is what is found in all rows at once.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fleetstats.core.value import Array

ROWS = 4_000_000
"""Rows in hand at a time, about; a shorter table is one slice."""

MOST_BITS = 8


def slices_of(key: Array) -> Iterator[Array]:
    """Yield the places (k,) int of the rows of each range of engines' numbers, none empty.

    Parameters
    ----------
    key : (n,) uint64
        The number of each row's engine, spread evenly over all that there are.
    """
    bits = min(max(len(key) - 1, 0) // ROWS, 2**MOST_BITS - 1).bit_length()
    if not bits:
        yield np.arange(len(key))
        return
    part = (key >> np.uint64(64 - bits)).astype(np.uint8)
    for i in range(2**bits):
        at = np.flatnonzero(part == i)
        if len(at):
            yield at


def last_rows(key: Array, hours: Array, runs: Array, which: Array) -> Array:
    """Return the places of each engine's last row of those that count, by the engines' numbers.

    Parameters
    ----------
    key : (n,) uint64
        The number of each row's engine.
    hours : (n,) float
        By which an engine's rows are in order.
    runs : (n,) bool
        Of two rows with equal hours one that does not run stands last.
    which : (n,) bool
        The rows that count.
    """
    out = [np.empty(0, dtype=np.intp)]
    for every in slices_of(key):
        at = every[which[every]]
        order, again = order_of_engines(key[at], hours[at], ~runs[at])
        last = np.ones(len(order), dtype=bool)
        last[:-1] = ~again[1:]
        out.append(at[order[last]])
    return np.concatenate(out)


def order_of_engines(key: Array, *by: Array) -> tuple[Array, Array]:
    """Return the order (n,) of rows by their engines' numbers, and which are of the row before's.

    The rows of one engine are in the order of `by`, the first of them deciding first, and of those
    equal in all as they came. Only they are sorted by more than the number: most engines have one.
    """
    order = np.argsort(key)
    sorted_key = key[order]
    again = np.zeros(len(order), dtype=bool)
    again[1:] = sorted_key[1:] == sorted_key[:-1]
    several = again.copy()
    several[:-1] |= again[1:]
    if several.any():
        mine = np.sort(order[several])
        order[several] = mine[np.lexsort((*(x[mine] for x in by[::-1]), key[mine]))]
    return order, again


def count_different(key: Array, which: Array) -> int:
    """Return how many engines some of the rows tell of.

    Parameters
    ----------
    key : (n,) uint64
        The number of each row's engine.
    which : (n,) bool
        The rows that count.
    """
    n = 0
    for at in slices_of(key):
        k = np.sort(key[at[which[at]]])
        n += len(k[:1]) + int((k[1:] != k[:-1]).sum())
    return n


def is_among(key: Array, some: Array) -> Array:
    """Return which numbers (n,) are among a few."""
    few, out = np.unique(some), np.zeros(len(key), dtype=bool)
    for first in range(0, len(key) if len(few) else 0, ROWS):
        mine = key[first : first + ROWS]
        place = np.minimum(np.searchsorted(few, mine), len(few) - 1)
        out[first : first + ROWS] = few[place] == mine
    return out
