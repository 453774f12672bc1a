"""All pairs of ids one slip apart, by columns of letters: a fleet numbered one by one has millions.

Ids one slip apart share a form (`near_ids.slip_forms`). Forms are told by a number of 64 bits each,
sorted, and the ids of one form compared in their order; what a number let through is then judged
by its letters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.near_ids import LEAST_LENGTH, n_differing, one_changed, one_slip, packed

WIDEST = 32
"""Signs of an id up to which it is judged by columns; longer ones are few: judged one by one."""

_PAIR = np.uint64(0x9E3779B97F4A7C15)
_BASE = np.uint64(0xD6E8FEB86659FD93)
"""Odd numbers without a pattern, for telling forms apart; any would do."""


def slip_pairs(ids: Sequence[str], most: int) -> tuple[Array, Array]:
    """Return the numbers (m,), (m,) of ids one slip apart, the first below the second.

    Parameters
    ----------
    ids : sequence of str
        All different.
    most : int
        Ids of one form that an id is compared with: those before it, the latest first.
    """
    n = len(ids)
    length = np.array([len(x) for x in ids], dtype=np.int64)
    letters = _letters([x[:WIDEST] for x in ids], min(WIDEST, int(length.max(initial=1)) or 1))
    signs = _Signs(letters, length)
    found = []
    for i, j in _of_one_form(*_forms(ids, length), most):
        near = _one_slip(ids, signs, i, j)
        found.append(i[near] + j[near] * n)
    pairs = np.sort(np.concatenate(found)) if found else np.zeros(0, dtype=np.int64)
    pairs = pairs[np.diff(pairs, prepend=-1) > 0]  # two ids may share several forms
    return pairs % max(n, 1), pairs // max(n, 1)


def slip_candidates(ids: Sequence[str], most: int) -> Iterator[tuple[Array, Array]]:
    """Yield the numbers (m,), (m,) of ids that may be one slip apart, the first below the second.

    They share a form; ids may repeat, and a pair comes as often as it shares forms.

    Parameters
    ----------
    ids : sequence of str
        Of any length.
    most : int
        Ids of one form that an id is paired with: those before it, the latest first.
    """
    length = np.array([len(x) for x in ids], dtype=np.int64)
    yield from _of_one_form(*_forms(ids, length), most)


def _of_one_form(form: Array, who: Array, most: int) -> Iterator[tuple[Array, Array]]:
    """Yield pairs of ids of one form: neighbours first, then those further and further apart."""
    for apart in range(1, min(most, len(form) - 1) + 1):
        same = form[apart:] == form[:-apart]
        if not same.any():
            break
        yield who[:-apart][same], who[apart:][same]


def _forms(ids: Sequence[str], length: Array) -> tuple[Array, Array]:
    """Return numbers (m,) of forms, sorted, each once for an id, and the ids (m,) they are of."""
    forms, who = [np.zeros(0, np.uint64)], [np.zeros(0, np.int64)]
    for width in np.unique(length):
        at = np.flatnonzero(length == width)
        if not width:
            continue
        letters = _letters([ids[i] for i in at.tolist()], int(width)).astype(np.uint64)
        for form in _forms_of(letters):
            forms.append(form)
            who.append(at)
    form, engine = np.concatenate(forms), np.concatenate(who)
    order = np.lexsort((engine, form))
    form, engine = form[order], engine[order]
    first = np.ones(len(form), dtype=np.bool_)
    first[1:] = (form[1:] != form[:-1]) | (engine[1:] != engine[:-1])
    return form[first], engine[first]


def _letters(ids: Sequence[str], width: int) -> Array:
    """Return (n, width) the signs of ids as numbers, 0 past their ends."""
    return np.array(ids, dtype=f"U{width}").view(np.uint32).reshape(len(ids), width)


def _forms_of(letters: Array) -> Iterator[Array]:
    """Yield the numbers (n,) of the forms of ids (n, width): whole, one sign less, two as a pair.

    A form is told by the sum of its signs, each times a power of one base, modulo 2**64.
    """
    width = letters.shape[1]
    power = np.cumprod(np.full(width + 1, _BASE))
    weighed = letters * power[:width]
    whole = weighed.sum(axis=1)
    before: Array = np.zeros(len(letters), np.uint64)
    moved = letters[:, 1:] * power[: width - 1]  # signs behind the one left out, one place nearer
    behind = moved.sum(axis=1)
    yield whole
    for k in range(width):
        yield before + behind
        before = before + weighed[:, k]
        if k + 1 < width:
            behind = behind - moved[:, k]
            a, b = letters[:, k], letters[:, k + 1]
            low, high = np.minimum(a, b), np.maximum(a, b)
            yield (
                whole
                - weighed[:, k]
                - weighed[:, k + 1]
                + ((low * _PAIR + high + np.uint64(1)) * _PAIR * power[k])
            )


class _Signs:
    """The signs of ids as numbers (n, w), narrow ones eight to a word, and the ids' lengths."""

    def __init__(self, letters: Array, length: Array) -> None:
        self.letters = letters
        self.some_long = bool(length.max(initial=0) > WIDEST)
        self.length = np.minimum(length, WIDEST + 1).astype(np.int8)  # all that is asked of them
        if int(letters.max(initial=0)) < 256:
            self.letters = letters.astype(np.uint8)
        self.words = packed(self.letters)

    def changed(self, i: Array, j: Array) -> Array:
        """Return whether ids of one length have one sign changed, or two neighbours exchanged."""
        if self.words is None:
            return one_changed(self.letters[i], self.letters[j])
        differ = n_differing(self.words[i], self.words[j])
        out = differ == 1
        two = np.flatnonzero(differ == 2)
        out[two] = one_changed(self.letters[i[two]], self.letters[j[two]])
        return np.asarray(out)


def _one_slip(ids: Sequence[str], signs: _Signs, i: Array, j: Array) -> Array:
    """Return (m,) whether ids are one slip apart, as `near_ids.one_slip` judges two."""
    letters = signs.letters
    a, b = signs.length[i], signs.length[j]
    out = np.zeros(len(i), dtype=np.bool_)
    fit = np.minimum(a, b) >= LEAST_LENGTH
    if signs.some_long:
        long = np.maximum(a, b) > WIDEST
        for k in np.flatnonzero(long):
            out[k] = one_slip(ids[i[k]], ids[j[k]])
        fit &= ~long
    same = np.flatnonzero(fit & (a == b))
    out[same] = signs.changed(i[same], j[same])
    for less, more, longer in ((i, j, b - a), (j, i, a - b)):
        one = np.flatnonzero(fit & (longer == 1))
        out[one] = _one_more(letters[less[one]], letters[more[one]])
    return out


def _one_more(less: Array, more: Array) -> Array:
    """Return whether the longer is the shorter with a sign put in."""
    k = (less != more).argmax(axis=1)[:, None]
    moved = np.concatenate([more[:, 1:], np.zeros((len(more), 1), more.dtype)], axis=1)
    at = np.arange(less.shape[1])[None, :]
    return np.asarray(np.where(at < k, less == more, less == moved).all(axis=1))
