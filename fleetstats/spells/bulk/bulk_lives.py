"""Lives of a chunk of a large table, as columns."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.vocabulary.id_key import hash_ids, sign_matrix

COUNTS_AS = ("censored", "failure", "competing", "finding", "excluded")
"""What an ending counts as, by number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkLives:
    """Lives of a chunk.

    Parameters
    ----------
    entry_h, lower_h, upper_h : (n,) float
        Hours on the standard clock; the end lies in ``(lower_h, upper_h]``, or is both.
    counts_as : (n,) int
        Number in `COUNTS_AS`, never "excluded".
    weight : (n,) int
        Engines that each stands for.
    clock_sd, in_words : (n,) float
        As in `Spells`.
    key, line, last_day : (m,) int
        For each row that stands for one engine: its number (`id_key`), its line, and the day of
        its last reading or its end, `NO_DAY` where not told.
    start_h, stop_h : (m,) float
        Hours since new between which it was seen.
    life_h : (m,) float
        Hours at its end on the clock of its own life.
    new_day : (m,) int
        Day on which it was put into service, `NO_DAY` where not told.
    failed, enters : (m,) bool
        Whether its life ended in what may be a failure, and whether it, or a part of it, is among
        the lives.
    """

    entry_h: Array
    lower_h: Array
    upper_h: Array
    counts_as: Array
    weight: Array
    clock_sd: Array
    in_words: Array
    key: Array
    line: Array
    last_day: Array
    start_h: Array
    stop_h: Array
    life_h: Array
    new_day: Array
    failed: Array
    enters: Array


def key_of(ids: Iterable[str]) -> Array:
    """Return the numbers of ids in their form for comparison."""
    out = []
    for text in ids:
        if text.isascii():
            signs = np.frombuffer(text.encode(), dtype=np.uint8)
            out.append(int(hash_ids(sign_matrix(signs, np.array([0, len(signs)])))[0]))
        else:
            out.append(int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "little"))
    return np.array(out, dtype=np.uint64)
