"""Pairs of ids one slip apart among neighbours in hours, found by columns of letters.

The neighbours of all rows at one distance are compared at once, so that a hundred thousand ended
lives take a second; each pair that may be one slip apart is then judged letter by letter.
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
        same = alike & (longer == 0)
        same &= (signs[apart:] != signs[:-apart]).sum(axis=1) <= 2
        other = np.flatnonzero(alike & (longer == 1))
        shared = _shared(signs[other], signs[other + apart]) + _shared(
            from_end[other], from_end[other + apart]
        )
        # a sign more leaves all of the shorter shared from the two ends
        more = other[shared >= np.minimum(length[other], length[other + apart])]
        for i in (*np.flatnonzero(same).tolist(), *more.tolist()):
            if one_slip(ids[i], ids[i + apart]):
                yield i, i + apart


def _shared(a: Array, b: Array) -> Array:
    """Return how many columns from the first on are the same."""
    differ = a != b
    return np.asarray(np.where(differ.any(axis=1), differ.argmax(axis=1), a.shape[1]))
