"""By which rows a fleet that is only supposed differs from the one that it was made of.

Whom to ask, or how much an unreported failure matters, is told by bounding a fleet a hundred times
with a life or two that ran on, failed or joined. What is summed or sorted over all lives then
follows from the sums of the fleet before and the few rows that differ. Who makes such a fleet notes
here what differs; who sums may ask, and is told nothing of any other fleet.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Own, frozen_array
from fleetstats.spells.column_checks import each_is_one
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells

PLACE = "differs from"

FEW = 16
"""One row in so many may differ; of more, the sums over all are no dearer: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsChanged:
    """What differs between two fleets.

    `before` is the one that is known; its rows `gone` are no more, and the rows `come` of the new
    fleet are in it besides. A life that ran on is one gone and one come.
    """

    before: Spells
    gone: Array
    come: Array

    def rows_gone(self, name: str) -> Array:
        """Return a column of the rows that are no more."""
        return np.asarray(getattr(self.before, name)[self.gone])


def note_change(after: Spells, before: Spells, gone: ArrayLike, come: ArrayLike) -> Spells:
    """Return `after`, of which is known from now on that all other rows are those of `before`.

    Parameters
    ----------
    after, before : Spells
        Fleets on one clock.
    gone, come : (k,) int
        Rows of `before` that are not in `after`, and rows of `after` that are not in `before`.
    """
    change = RowsChanged(
        before=before,
        gone=frozen_array(gone, np.int64),
        come=frozen_array(come, np.int64),
    )
    if (len(change.gone) + len(change.come)) * FEW <= len(before):
        kept(after, PLACE, lambda: change)
    return after


def change_of(spells: Spells) -> RowsChanged | None:
    """Return by what a fleet differs from one that is known; None where nobody noted it."""
    return kept(spells, PLACE, lambda: None)


def goes_on_alike(after: Spells, change: RowsChanged) -> bool:
    """Return whether lives go on in further lives of their engines as before, and no others.

    A life goes on where another of its engine begins at the hours at which it ends; False where
    that is not plain from the rows that differ.
    """
    before = change.before
    further = Counter(_whose(after, change.come))
    further.subtract(_whose(before, change.gone))
    if min(further.values(), default=0) < 0:
        return False
    engines = [name for name, _ in further.elements()]
    if len(set(engines)) < len(engines) or not engines_of(before).isdisjoint(engines):
        return False
    late = kept(before, "late entries", lambda: _late_entries(before))
    ends = (_whose(s, rows[s.event[rows] != Event.FAILED], "exit_upper")
            for s, rows in ((before, change.gone), (after, change.come)))  # fmt: skip
    return all(late.isdisjoint(x) for x in ends)


def _whose(spells: Spells, rows: Array, hours: str = "entry") -> list[tuple[str, float]]:
    """Return the engine and the hours of entry, or of exit, of some rows."""
    ages = getattr(spells, hours)[rows].tolist()
    return list(zip(spells.unit[rows].tolist(), ages, strict=True))


def engines_of(spells: Spells) -> frozenset[str]:
    """Return the names of all engines that lives are of, gathered once."""
    return kept(spells, "names of engines", lambda: frozenset(spells.unit.tolist()))


def _late_entries(spells: Spells) -> frozenset[tuple[str, float]]:
    return frozenset(_whose(spells, np.flatnonzero(spells.entry > 0.0)))


def failure_ages(spells: Spells) -> Array | None:
    """Return (r,) the ages in hours of the failures, rising; worked out once.

    None where a failure is known only to lie in an interval, or its row stands for several lives.
    """
    return kept(spells, "failure ages", lambda: _failure_ages(spells))


def _failure_ages(spells: Spells) -> Array | None:
    one = each_is_one(spells.weight) or bool((spells.weight[spells.failed] == 1.0).all())
    if not one or bool(spells.interval_known.any()):
        return None
    change = change_of(spells)
    old = None if change is None else failure_ages(change.before)
    if change is None or old is None:
        return frozen_array(Own(np.sort(spells.exit_upper[spells.failed])))
    gone = np.sort(change.rows_gone("exit_upper")[change.rows_gone("failed")])
    come = np.sort(spells.exit_upper[change.come][spells.failed[change.come]])
    # of equal ages the first is taken for the first, the second for the second
    nth = np.arange(len(gone)) - np.searchsorted(gone, gone)
    left = np.delete(old, np.searchsorted(old, gone) + nth)
    return frozen_array(Own(np.insert(left, np.searchsorted(left, come), come)))


def distinct(ages: Array) -> tuple[Array, Array]:
    """Return the distinct ages of `ages` (r,), rising, and how many of them are at or below each.

    ``((k,), (k,))``.
    """
    last = np.append(ages[1:] != ages[:-1], True)[: len(ages)]
    return ages[last], np.flatnonzero(last) + 1.0
