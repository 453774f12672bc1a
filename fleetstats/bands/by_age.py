"""What the number at risk does at each age: who comes, who goes and who fails, sorted once."""

from __future__ import annotations

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.column_checks import each_is_one
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import RowsChanged, change_of


@value
class ByAge(Value):
    """Lives by the ages at which they are first and last at risk.

    Parameters
    ----------
    ages : (k,) float
        All ages in hours at which a life begins or ends, rising; a failure known to lie in an
        interval ends its life at the lower end.
    begun, ended, failed : (k,) float
        Weight of the lives that begin at each, that end there, and that fail there.
    """

    ages: Array
    begun: Array
    ended: Array
    failed: Array

    @classmethod
    def of_spells(cls, spells: Spells) -> ByAge:
        """Sort the lives of a fleet, once for the same spells."""
        return kept(spells, "lives by age", lambda: cls._of_spells(spells))

    @classmethod
    def _of_spells(cls, spells: Spells) -> ByAge:
        w, stop = spells.weight, spells.exit_lower
        change = change_of(spells)
        # sums of whole numbers are exact, whatever is put in and taken out
        if change is not None and _are_whole(change.before.weight) and _are_whole(w):
            return cls._of_change(spells, change)
        ages, place = np.unique(np.concatenate([stop, spells.entry]), return_inverse=True)
        end, begin = place[: len(stop)], place[len(stop) :]
        return cls(
            ages=ages,
            begun=np.bincount(begin, w, len(ages)),
            ended=np.bincount(end, w, len(ages)),
            failed=np.bincount(end, w * spells.failed, len(ages)),
        )

    @classmethod
    def _of_change(cls, spells: Spells, change: RowsChanged) -> ByAge:
        """Put the rows that differ in their places among the ages of the fleet before."""
        old = cls.of_spells(change.before)
        taken = {f: change.rows_gone(f) for f in ("entry", "exit_lower", "weight", "failed")}
        put = {f: getattr(spells, f)[change.come] for f in taken}
        touched = np.unique(np.concatenate([x[f] for x in (taken, put)
                                            for f in ("entry", "exit_lower")]))  # fmt: skip
        at = np.searchsorted(old.ages, touched)
        new = old.ages[np.minimum(at, len(old.ages) - 1)] != touched
        ages = np.insert(old.ages, at[new], touched[new])
        columns = [np.insert(c, at[new], 0.0) for c in (old.begun, old.ended, old.failed)]
        for sign, rows in ((-1.0, taken), (1.0, put)):
            begin, end = (np.searchsorted(ages, rows[f]) for f in ("entry", "exit_lower"))
            weight = sign * rows["weight"]
            told = zip(columns, (begin, end, end), (weight, weight, weight * rows["failed"]),
                       strict=True)  # fmt: skip
            for column, place, w in told:
                np.add.at(column, place, w)
        place = np.searchsorted(ages, touched)
        empty = place[(columns[0][place] == 0.0) & (columns[1][place] == 0.0)]
        ages, begun, ended, failed = (np.delete(c, empty) for c in (ages, *columns))
        return cls(ages=ages, begun=begun, ended=ended, failed=failed)

    @property
    def at_risk(self) -> Array:
        """Return (k,) the weight at risk up to each age."""
        return np.concatenate([[0.0], np.cumsum(self.begun - self.ended)[:-1]])[: len(self.ages)]


def _are_whole(weight: Array) -> bool:
    """Return whether all weights are whole numbers."""
    return each_is_one(weight) or bool((weight == np.floor(weight)).all())
