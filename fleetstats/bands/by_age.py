"""What the number at risk does at each age: who comes, who goes and who fails, sorted once."""

from __future__ import annotations

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells


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
        ages, place = np.unique(np.concatenate([stop, spells.entry]), return_inverse=True)
        end, begin = place[: len(stop)], place[len(stop) :]
        return cls(
            ages=ages,
            begun=np.bincount(begin, w, len(ages)),
            ended=np.bincount(end, w, len(ages)),
            failed=np.bincount(end, w * spells.failed, len(ages)),
        )

    @property
    def at_risk(self) -> Array:
        """Return (k,) the weight at risk up to each age."""
        return np.concatenate([[0.0], np.cumsum(self.begun - self.ended)[:-1]])[: len(self.ages)]
