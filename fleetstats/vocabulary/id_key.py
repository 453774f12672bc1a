"""Numbers that stand for engine ids: equal for ids that are the same engine, column by column.

The number of an id is a hash of its form for comparison (`life.normalise_id`): upper case, signs
dropped but one between two digits, leading zeros of each run of digits dropped. Different ids
share a number by chance only, about once in 4 x 10^5 tables of ten million engines; whoever finds
two rows by it looks at the ids themselves.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

BASE = np.uint64(0x9E3779B97F4A7C15)
"""Odd multiplier of the running hash."""

DASH, ZERO, NINE, A, Z = 45, 48, 57, 65, 90


def hash_ids(signs: Array) -> Array:
    """Return (n,) numbers of ids.

    Parameters
    ----------
    signs : (n, w) uint8
        Each id in ASCII, upper case, padded with 0.
    """
    n = len(signs)
    out = np.zeros(n, dtype=np.uint64)
    digit_last = np.zeros(n, dtype=bool)
    zeros = np.zeros(n, dtype=bool)
    gap = np.zeros(n, dtype=bool)

    def emit(where: Array, sign: Array) -> None:
        nonlocal out
        out = np.where(where, (out + sign.astype(np.uint64) + np.uint64(1)) * BASE, out)

    zero = np.full(n, ZERO, dtype=np.uint8)
    dash = np.full(n, DASH, dtype=np.uint8)
    for column in np.ascontiguousarray(signs.T):
        digit = (column >= ZERO) & (column <= NINE)
        letter = (column >= A) & (column <= Z)
        other = ~(digit | letter)
        # zeros that no digit follows stay; one of them stands for all
        closing = zeros & ~digit
        emit(closing, zero)
        digit_last |= closing
        zeros &= digit
        # a sign between two digits keeps them apart; every other one is dropped
        apart = digit & gap & digit_last
        emit(apart, dash)
        starts = digit & (~digit_last | apart) & ~zeros
        leading = digit & (column == ZERO) & (starts | zeros)
        shown = digit & ~leading
        emit(shown | letter, column)
        digit_last = np.where(digit, shown, np.where(letter, False, digit_last))
        zeros = leading
        gap = np.where(other, True, False) & (column != 0) | (gap & (column == 0))
    emit(zeros, zero)
    out ^= out >> np.uint64(31)
    return out * BASE


def sign_matrix(data: Array, offsets: Array) -> Array:
    """Return (n, w) signs of texts that lie one after the other in `data` (bytes).

    Parameters
    ----------
    data : (m,) uint8
        ASCII.
    offsets : (n + 1,) int
        Where each text begins; the last is where the last ends.
    """
    length = np.diff(offsets)
    width = int(length.max(initial=0))
    at = np.arange(width)
    inside = at < length[:, None]
    place = np.minimum(offsets[:-1, None] + at, max(len(data) - 1, 0))
    signs = np.where(inside, data[place] if len(data) else 0, 0).astype(np.uint8)
    lower = (signs >= ord("a")) & (signs <= ord("z"))
    return np.asarray(signs - 32 * lower.astype(np.uint8))
