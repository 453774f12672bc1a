"""Equal spells put together as they come: one weighted row for each different one, exactly.

Fits, counts and bands depend on spells only through their ends, events and weights; labels, where
they are told, keep apart what is compared. Hours written to a tenth leave some ten thousand
different rows of any number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Own
from fleetstats.spells.column_checks import starts_of_equal
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells

EVENTS = len(Event)
"""Events that a label is told beside: the column holds event + EVENTS * label."""

Label = tuple[str, str, str]
"""Cause, source and build of a spell."""

GROWTH = 2.0
"""How much longer a list of rows may grow before equal ones are put together again."""


@dataclass(slots=True)
class Tally:
    """Spells added up.

    Each row is (entry, lower end, upper end, event and label, clock sd or -1 for none, in words),
    with how many spells it stands for.
    """

    rows: list[Array] = field(default_factory=list)
    weights: list[Array] = field(default_factory=list)
    n_rows: int = 0
    n_merged: int = 0

    def add(
        self, entry_h: Array, lower_h: Array, upper_h: Array, event: Array, weight: Array,
        clock_sd: Array | None = None, in_words: Array | None = None, label: Array | None = None,
    ) -> None:  # fmt: skip
        """Add spells; a negative weight takes some away that were added before.

        Parameters
        ----------
        entry_h, lower_h, upper_h, event, weight, clock_sd, in_words : (n,)
            As the columns of `Spells`.
        label : (n,) int, optional
            Number of the label of each; 0 when left out.
        """
        if not len(entry_h):
            return
        # NaN is equal to nothing, and equal rows are put together
        sd = np.full(len(entry_h), -1.0) if clock_sd is None else np.nan_to_num(clock_sd, nan=-1.0)
        words = np.zeros(len(entry_h)) if in_words is None else in_words
        kind = np.asarray(event, dtype=np.float64)
        kind = kind if label is None else kind + float(EVENTS) * label
        table = np.column_stack([entry_h, lower_h, upper_h, kind, sd, words]).astype(np.float64)
        self._take(*_merge(table, np.asarray(weight, dtype=np.float64)))

    def join(self, other: Tally, labels: Array) -> None:
        """Add what another tally holds, its label i under the number `labels[i]`."""
        for table, weight in zip(other.rows, other.weights, strict=True):
            kind = table[:, 3].astype(np.int64)
            known = table.copy()
            known[:, 3] = kind % EVENTS + EVENTS * labels[kind // EVENTS]
            self._take(*_merge(known, weight))

    def _take(self, table: Array, weight: Array) -> None:
        self.rows.append(table)
        self.weights.append(weight)
        self.n_rows += len(table)
        if self.n_rows > GROWTH * max(self.n_merged, 1) and len(self.rows) > 1:
            self._settle()

    def _settle(self) -> None:
        rows, weights = np.concatenate(self.rows), np.concatenate(self.weights)
        self.rows.clear()
        self.weights.clear()
        table, weight = _merge(rows, weights)
        self.rows, self.weights = [table], [weight]
        self.n_rows = self.n_merged = len(table)

    def _counted(self) -> tuple[Array, Array]:
        """Return the different rows that are left, and how many spells each stands for."""
        if len(self.rows) > 1:
            self._settle()
        table = self.rows[0] if self.rows else np.empty((0, 6))
        weight = self.weights[0] if self.weights else np.empty(0)
        if (weight < 0).any():
            raise SpellError("More spells were taken away than were added.", "Report this.")
        keep = weight > 0
        return (table, weight) if keep.all() else (table[keep], weight[keep])

    def __len__(self) -> int:
        """Return how many different rows there are."""
        return len(self._counted()[0])

    def spells(self) -> Spells:
        """Return the spells, one weighted row for each different one, labels left out.

        Raises
        ------
        SpellError
            If more was taken away than was there, or a row is no spell.
        """
        table, weight = self._counted()
        if (table[:, 3] >= EVENTS).any():
            table = table.copy()
            table[:, 3] %= EVENTS
            table, weight = _merge(table, weight)
        return _spells(table, weight, ("", "", ""))

    def by_label(self, labels: Sequence[Label]) -> Iterator[tuple[Label, Spells]]:
        """Yield the spells of each label, labels of one text together and in the order of texts.

        Parameters
        ----------
        labels : sequence of (cause, source, build)
            The text of each number.
        """
        table, weight = self._counted()
        number = table[:, 3].astype(np.int64) // EVENTS
        texts = sorted(set(labels))
        place = np.array([texts.index(x) for x in labels], dtype=np.int64)
        which = place[number] if len(number) else number
        for i, text in enumerate(texts):
            mine = which == i
            part, own = table[mine], weight[mine]
            if len(part):
                part[:, 3] %= EVENTS
                if np.count_nonzero(place == i) > 1 or self.n_merged != len(table):
                    part, own = _merge(part, own)
                yield text, _spells(part, own, text)


def _spells(table: Array, weight: Array, label: Label) -> Spells:
    n = len(table)
    # a table may be very long: what is made here is not copied
    texts = zip(("cause", "source", "build"), label, strict=True)
    made: dict[str, Any] = {
        "unit": Own(row_names(n)),
        "event": Own(table[:, 3].astype(np.int8)),
        "clock_sd": Own(np.where(table[:, 4] < 0.0, np.nan, table[:, 4])),
        **{name: Own(np.full(n, text)) for name, text in texts},
    }
    return Spells(
        entry=table[:, 0],
        exit_lower=table[:, 1],
        exit_upper=table[:, 2],
        weight=weight,
        in_words=table[:, 5],
        **made,
    )


def row_names(n: int) -> Array:
    """Return (n,) str of different names, as short as they can be: long tables have many.

    The numbers from 0 on, their digits put side by side: that takes a fifth of the time of
    turning each into text.
    """
    width = len(str(max(n - 1, 0)))
    signs = np.zeros((n, width), dtype=np.uint32)
    first = 0
    for digits in range(1, width + 1):
        last = min(10**digits, n)
        left = np.arange(first, last, dtype=np.uint32)
        for place in range(digits - 1, -1, -1):
            left, digit = np.divmod(left, 10)
            signs[first:last, place] = digit + ord("0")
        first = last
    return np.asarray(signs.view(f"=U{width}")[:, 0])


def _merge(table: Array, weight: Array) -> tuple[Array, Array]:
    """Return the different rows in order, and the sum of the weights of each."""
    doubts = np.unique(table[:, 4])
    if len(doubts) < 2:
        return _merge_alike(table, weight)
    parts = [_merge_alike(table[k], weight[k]) for k in (table[:, 4] == d for d in doubts)]
    return np.concatenate([t for t, _ in parts]), np.concatenate([w for _, w in parts])


def _merge_alike(table: Array, weight: Array) -> tuple[Array, Array]:
    """Return the same for rows of one doubt of their clocks."""
    exact = table[:, 1] == table[:, 2]
    out: list[Array] = []
    sums: list[Array] = []

    def add(order: Array) -> None:
        """Take some rows in an order in which equal ones follow each other."""
        if not len(order):
            return
        starts = starts_of_equal(table.T, order)
        out.append(table[order[starts]])
        sums.append(np.add.reduceat(weight[order], starts))

    for kind in np.flatnonzero(np.bincount(table[exact, 3].astype(np.int64))):
        rows = np.flatnonzero((table[:, 3] == kind) & exact)
        if not len(rows):
            continue
        # complex numbers sort by their real part, then by the other
        pairs = table[rows, 0] + 1j * table[rows, 2]
        add(rows[np.argsort(pairs, kind="stable")])
    rows = np.flatnonzero(~exact)
    add(rows[np.lexsort(table[rows].T[::-1])])
    if len(out) < 2:
        return (out[0], sums[0]) if out else (table, weight)
    return np.concatenate(out), np.concatenate(sums)
