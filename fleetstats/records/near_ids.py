"""Pairs of ids one slip apart among neighbours in hours, found by columns of letters.

The neighbours of all rows at one distance are compared at once, so that a hundred thousand ended
lives take a second.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fleetstats.core.value import Array

LEAST_LENGTH = 3
"""Ids shorter than this differ by one slip too often to say anything."""


def one_slip(a: str, b: str) -> bool:
    """Return whether two ids differ by one slip: a sign more, less, other, or two exchanged."""
    if a == b or abs(len(a) - len(b)) > 1 or min(len(a), len(b)) < LEAST_LENGTH:
        return False
    if len(a) > len(b):
        a, b = b, a
    k = next((i for i in range(len(a)) if a[i] != b[i]), len(a))
    if len(a) < len(b):
        return a[k:] == b[k + 1 :]
    return a[k + 1 :] == b[k + 1 :] or (
        a[k : k + 2] == b[k : k + 2][::-1] and a[k + 2 :] == b[k + 2 :]
    )


def slip_forms(engine: str) -> set[str]:
    """Return an id, and each form of it with one sign left out or two neighbours as a pair.

    Ids one slip apart share a form.
    """
    out = {engine} | {engine[:k] + engine[k + 1 :] for k in range(len(engine))}
    swaps = {
        f"{engine[:k]}<{''.join(sorted(engine[k : k + 2]))}>{engine[k + 2 :]}"
        for k in range(len(engine) - 1)
    }
    return out | swaps


def near_pairs(
    ids: Sequence[str], hours: Array, reach: Array, most: int
) -> Iterator[tuple[int, int]]:
    """Yield (i, j), i < j, of ids one slip apart at hours alike.

    Parameters
    ----------
    ids : sequence of str
        In the order of rising hours.
    hours : (n,) float
        Rising.
    reach : (n,) float
        A row is alike those before it that lie no further below than its reach.
    most : int
        Neighbours that a row is compared with.
    """
    n = len(ids)
    if n < 2:
        return
    text = np.array(ids, dtype=np.str_)
    width = max(text.dtype.itemsize // 4, 1)
    signs = text.view(np.uint32).reshape(n, width)
    length = np.array([len(s) for s in ids])
    if int(signs.max(initial=0)) < 256:
        signs = signs.astype(np.uint8)
    words = packed(signs)
    # the same signs set to the right, for what two ids share at their ends
    from_end = np.zeros_like(signs)
    for k in range(width):
        has = length > k
        from_end[has, k] = signs[has, length[has] - 1 - k]
    fit = length >= LEAST_LENGTH
    for apart in range(1, min(most, n - 1) + 1):
        alike = hours[apart:] - hours[:-apart] <= reach[apart:]
        if not alike.any():
            return
        alike &= fit[:-apart] & fit[apart:]
        longer = np.abs(length[apart:] - length[:-apart])
        # of one length, a slip changes one sign and an exchange two
        few = alike & (longer == 0)
        if words is not None:
            few &= n_differing(words[apart:], words[:-apart]) <= 2
        same = np.flatnonzero(few)
        same = same[one_changed(signs[same], signs[same + apart])]
        other = np.flatnonzero(alike & (longer == 1))
        shared = _shared(signs[other], signs[other + apart]) + _shared(
            from_end[other], from_end[other + apart]
        )
        # a sign more leaves all of the shorter shared from the two ends
        more = other[shared >= np.minimum(length[other], length[other + apart])]
        yield from ((i, i + apart) for i in same.tolist())
        yield from ((i, i + apart) for i in more.tolist() if one_slip(ids[i], ids[i + apart]))


_LOW_BITS = np.uint64(0x7F7F7F7F7F7F7F7F)
_HIGH_BITS = np.uint64(0x8080808080808080)
_ONES = np.uint64(0x0101010101010101)
"""Eight signs of eight bits in a word: all bits but the highest, the highest, and the lowest."""


def packed(signs: Array) -> Array | None:
    """Return signs (n, w) of eight bits as words of eight signs; None of wider ones."""
    if signs.dtype != np.uint8:
        return None
    n, width = signs.shape
    padded = np.zeros((n, -(-width // 8) * 8), np.uint8)
    padded[:, :width] = signs
    return padded.view(np.uint64)


def n_differing(a: Array, b: Array) -> Array:
    """Return (m,) how many signs differ in words as `packed` makes them, (m, w) each."""
    differ = np.zeros(len(a), np.uint64)
    for x, y in zip(a.T, b.T, strict=True):
        z = x ^ y
        # the highest bit of each sign that is not the same, then their number
        high = (((z & _LOW_BITS) + _LOW_BITS) | z) & _HIGH_BITS
        differ += ((high >> np.uint64(7)) * _ONES) >> np.uint64(56)
    return differ


def one_changed(a: Array, b: Array) -> Array:
    """Return (m,) whether ids of one length, (m, w) signs each, are one slip apart.

    One sign differs, or two neighbours are exchanged.
    """
    differ = a != b
    n, k = differ.sum(axis=1), differ.argmax(axis=1)
    row = np.arange(len(a))
    after = np.minimum(k + 1, a.shape[1] - 1)
    exchanged = (a[row, k] == b[row, after]) & (a[row, after] == b[row, k])
    return np.asarray((n == 1) | ((n == 2) & differ[row, after] & exchanged))


def _shared(a: Array, b: Array) -> Array:
    """Return how many columns from the first on are the same."""
    differ = a != b
    return np.asarray(np.where(differ.any(axis=1), differ.argmax(axis=1), a.shape[1]))
