"""On which months the failures of fleets fall in which nothing changed: drawn by their shares.

The months are those that ``searchsorted`` finds for each draw. Most are known without a search:
the draws are put into narrow buckets, and only in those that hold an edge between two months, or
come near one, are the draw and the edge compared.

Of very many failures those of nearly equal shares are drawn by the mean of their shares, from one
table (Marsaglia 1963, from memory). The failures expected of each month are the same, and their
variance is greater by the variance of the shares that are put together, which is measured first:
where it is more than `MOST_EXCESS` of the whole at any date, each is drawn by its own.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

BUCKETS = 4096
"""Buckets of equal width into which chances are put; it changes no digit."""

NEAR = 1e-12
"""Chances that are nearer to an edge than this are compared with it: far above rounding."""

DRAWS_AT_A_TIME = 131_072
ROWS_AT_A_TIME = 256
"""Draws, and failures, that are looked up together; they bound memory and change no digit."""

DRAWS_COUNTED = 1_000_000
"""Draws that are counted together."""

MANY = 4096
"""Failures from which on they are drawn together."""

TOGETHER = 64
"""Failures of nearly equal shares that are drawn by their mean."""

MOST_EXCESS = 0.02
"""Share of the variance of the number after any date by which that mean may add to it. Of 28,000
failures it adds a hundredth where a fifth of one is expected, and a hundred-thousandth elsewhere;
1999 fleets tell the 95th percentile of a ratio to some hundredths."""

SLOTS = 65_536
"""Slots of a table of months, of which a draw of 16 bits takes one."""


def count_fleets(share: Array, n: int, rng: np.random.Generator) -> Array:
    """Return how many failures fall on each month in each of n fleets.

    Parameters
    ----------
    share : (k, m) float
        Chance of each month for each failure; rows sum to 1 but for rounding.
    n : int
        Fleets.
    rng : Generator
        Draws n numbers for each failure in turn, or for `TOGETHER` of `MANY` at a time.

    Returns
    -------
    (n, m) int
    """
    k, m = share.shape
    if k >= MANY and (means := mean_shares(share)) is not None:
        return _count_together(*means, n, rng)
    rows = min(max(DRAWS_AT_A_TIME // n, 1), ROWS_AT_A_TIME)
    counted = max(DRAWS_COUNTED // n // rows, 1) * rows
    counts = np.zeros(n * m, dtype=np.int64)
    place = np.arange(n, dtype=np.int64)[:, None] * m
    month = np.empty((min(k, counted), n), dtype=np.int32)
    keys = np.empty((n, len(month)), dtype=np.int64)
    for first in range(0, k, counted):
        part = share[first : first + counted]
        for at in range(0, len(part), rows):
            chance = np.cumsum(part[at : at + rows], axis=1)
            month[at : at + len(chance)] = months_of(chance, rng.random((len(chance), n)))
        own = keys if len(part) == len(month) else np.empty((n, len(part)), dtype=np.int64)
        np.add(month[: len(part)].T, place, out=own)
        counts += np.bincount(own.ravel(), minlength=n * m)
    return counts.reshape(n, m)


def mean_shares(share: Array) -> tuple[Array, Array] | None:
    """Return the mean shares of failures whose shares are nearly one, and how many each is of.

    Parameters
    ----------
    share : (k, m) float
        As for `count_fleets`.

    Returns
    -------
    (g, m) float and (g,) int, or None
        None where their means would add more than `MOST_EXCESS` to the variance at some date.
    """
    k, m = share.shape
    by_month = np.ascontiguousarray(share.T)
    order = np.argsort(np.arange(m, dtype=np.float64) @ by_month, kind="stable")
    first = np.arange(0, k, TOGETHER)
    n = np.diff(np.append(first, k))
    mean, by_then = np.empty((len(first), m)), np.zeros(k)
    squares, own = np.zeros(m - 1), np.zeros(m - 1)
    for month, each in enumerate(by_month):
        ordered = each.take(order)
        mean[:, month] = np.add.reduceat(ordered, first) / n
        by_then += ordered
        if month < m - 1:
            squares[month] = by_then @ by_then
            own[month] = by_then.sum() - squares[month]
    excess = squares - n @ np.cumsum(mean, axis=1)[:, :-1] ** 2
    return (mean, n) if bool(np.all(excess <= MOST_EXCESS * own + NEAR * k)) else None


def _count_together(mean: Array, of: Array, n: int, rng: np.random.Generator) -> Array:
    """Return what `count_fleets` does for failures that are drawn by their mean shares."""
    m = mean.shape[1]
    counts = np.zeros(n * m, dtype=np.int64)
    place = np.arange(n, dtype=np.int64)[:, None] * m
    months = np.arange(m + 1, dtype=np.uint16 if m < SLOTS else np.int64)
    keys = np.empty((n, (DRAWS_COUNTED // (2 * n * TOGETHER) + 1) * TOGETHER), dtype=np.int64)
    filled = 0
    for share, k in zip(mean, of.tolist(), strict=True):
        if filled + k > keys.shape[1]:
            counts += np.bincount(keys[:, :filled].ravel(), minlength=n * m)
            filled = 0
        slots = share * (SLOTS / share.sum())
        whole = np.minimum(slots.astype(np.int64), SLOTS)
        table = np.repeat(months, np.append(whole, SLOTS - whole.sum()))
        month = table.take(draw_slots(rng, n, k), mode="wrap")
        # what is less than a slot of its month is drawn anew among such parts
        rest = np.flatnonzero(month == m)
        part = np.cumsum(slots - whole)
        again = np.searchsorted(part, rng.random(len(rest)) * part[-1], side="right")
        month.ravel()[rest] = np.minimum(again, m - 1)
        np.add(month, place, out=keys[:, filled : filled + k])
        filled += k
    counts += np.bincount(keys[:, :filled].ravel(), minlength=n * m)
    return counts.reshape(n, m)


def draw_slots(rng: np.random.Generator, n: int, k: int) -> Array:
    """Return (n, k) slots, as ``rng.integers(0, SLOTS, (n, k), dtype=np.uint16)`` draws them.

    Where they fill whole words of 64 bits they are drawn by the word, which gives the same.
    """
    if n * k % 4:
        return rng.integers(0, SLOTS, (n, k), dtype=np.uint16)
    words = rng.integers(0, 2**64 - 1, n * k // 4, dtype=np.uint64, endpoint=True)
    return words.astype("<u8", copy=False).view("<u2").reshape(n, k)


def months_of(chance: Array, drawn: Array) -> Array:
    """Return the month of each draw.

    Parameters
    ----------
    chance : (b, m) float
        Cumulative chances of the months, of each of b failures.
    drawn : (b, n) float
        Within 0 to 1, the upper end left out.

    Returns
    -------
    (b, n) int
        ``searchsorted(chance, drawn * chance[-1], side="right")`` of each row, m - 1 at most.
    """
    b, n = drawn.shape
    m = chance.shape[1]
    guide, first = _guide(chance)
    bucket = np.multiply(drawn, BUCKETS, out=np.empty((b, n), dtype=np.int32), casting="unsafe")
    bucket += first
    code = guide.take(bucket).ravel()
    near = np.flatnonzero((code & 1).astype(bool))
    code >>= 1
    if len(near):
        row = near // n
        edges = np.concatenate([chance, np.full((b, 1), np.inf)], axis=1).ravel()
        x = drawn.ravel().take(near) * chance[:, -1].take(row)
        begin = row * (m + 1)
        code[near] = _search(edges, x, code.take(near) + begin, begin + m) - begin
    return np.asarray(np.minimum(code, m - 1).reshape(b, n))


def _guide(chance: Array) -> tuple[Array, Array]:
    """Return a code for each bucket of each failure, one after another, and where each begins.

    A code is twice the edges that surely lie below the bucket, and 1 more where an edge lies in it
    or near it.
    """
    b, size = len(chance), BUCKETS + 2
    first = np.arange(0, b * size, size, dtype=np.int32)[:, None]
    low = np.clip(((chance - NEAR) * BUCKETS).astype(np.int64), 0, BUCKETS)
    high = np.clip(((chance + NEAR) * BUCKETS).astype(np.int64), 0, BUCKETS)
    above = np.where(chance <= 0.0, 0, high + 1)  # no draw lies below 0
    below = np.bincount((above + first).ravel(), minlength=b * size).reshape(b, size)
    guide = np.cumsum(below, axis=1, dtype=np.int32).ravel()
    guide <<= 1
    guide[(low + first).ravel()] |= 1
    guide[(high + first).ravel()] |= 1
    return guide, first


def _search(edges: Array, x: Array, low: Array, high: Array) -> Array:
    """Return the place of the first of some edges above each x, between `low` and `high`."""
    # most lie below the first edge, or between it and the next
    for _ in range(2):
        step = np.flatnonzero(x >= edges.take(low))
        low[step] += 1
        if not len(step):
            return low
    x, lower, upper = x.take(step), low.take(step), high.take(step)
    for _ in range(int((upper - lower).max()).bit_length()):
        middle = (lower + upper) >> 1
        past = x >= edges.take(middle)
        lower, upper = (
            np.where(past, np.minimum(middle + 1, upper), lower),
            np.where(past, upper, middle),
        )
    low[step] = upper
    return low
