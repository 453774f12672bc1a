"""Bounds that assume no shape at all: counts of engines that settle an age.

Of the engines followed all the way to an age, or seen to fail on the way, the failed have a
binomial share, whatever the law of life: the exact limits are Clopper & Pearson's (1934). Engines
withdrawn short of the age are left out, which is fair only if hours alone decided it; those that
would have been withdrawn but failed first are in, which can only make the bound more careful. Where
engines are heard of late, each age on the way was passed by some of them only, and the least number
at any age counts; so hazard could lie nowhere that fewer would have met it.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.bayes.prior import count_lives
from fleetstats.bands.by_age import ByAge
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import distinct, failure_ages


@value
class Settled(Value):
    """Engines that settle each age at which their number changes.

    Parameters
    ----------
    hours : (k,) float
        Ages, rising.
    short, passed : (k,) float
        Least number at risk at any age up to just short of each, and up to it with those left out
        that fail there.
    failed : (k,) float
        Failures by each age; one known to lie in an interval counts from its lower end, as is
        careful where failing is bounded from above.
    ends, ended : (j,) float
        Ages by which failures had surely happened, rising, and how many had by each; one known to
        lie in an interval counts from its upper end.
    n_lives : float
        Lives that were ever seen.
    """

    hours: Array
    short: Array
    passed: Array
    failed: Array
    ends: Array
    ended: Array
    n_lives: float

    @classmethod
    def of_spells(cls, spells: Spells) -> Settled:
        """Count the engines of a fleet, once for the same spells."""
        return kept(spells, "settled", lambda: cls._of_spells(spells))

    @classmethod
    def _of_spells(cls, spells: Spells) -> Settled:
        by_age = ByAge.of_spells(spells)
        counted = slice(int(np.searchsorted(by_age.ages, 0.0, side="right")), None)
        ages, at_risk = by_age.ages[counted], by_age.at_risk[counted]
        passed = np.minimum.accumulate(at_risk - by_age.failed[counted])
        before = np.concatenate([[np.inf], passed])[: len(ages)]
        ends, ended = _surely_ended(spells)
        return cls(
            hours=ages,
            short=np.minimum(before, at_risk),
            passed=passed,
            failed=np.cumsum(by_age.failed)[counted],
            ends=ends,
            ended=ended,
            n_lives=count_lives(spells),
        )

    def _at(self, hours: Array) -> tuple[Array, Array]:
        """Return (m,) how many passed and how many failed by ages (m,)."""
        if not len(self.hours):  # nothing is known but that some failed before an age
            return np.zeros_like(hours), np.zeros_like(hours)
        i = np.searchsorted(self.hours, hours, side="left")
        known = i < len(self.hours)
        i = np.minimum(i, len(self.hours) - 1)
        exact = known & (self.hours[i] == hours)
        before = np.concatenate([[0.0], self.failed])
        failed = np.where(exact, self.failed[i], np.where(known, before[i], self.failed[-1]))
        passed = np.where(known, np.where(exact, self.passed[i], self.short[i]), 0.0)
        return passed, failed

    def n_settled(self, hours: float) -> float:
        """Return how many lives settle an age: passed it, or failed by it."""
        passed, failed = self._at(np.array([hours]))
        return float(passed[0] + failed[0])

    def failure_high(self, hours: Array, confidence: float, *, added: float = 0.0) -> Array:
        """Return (m,) upper bounds of the chance of failing by ages (m,); 1 where none passed.

        `added` failures that nobody saw count besides, from new.
        """
        from scipy.special import betaincinv

        passed, failed = self._at(hours)
        out = betaincinv(failed + added + 1.0, np.maximum(passed, 1e-9), confidence)
        return np.asarray(np.where(passed > 0.0, out, 1.0))

    def failure_low(self, hours: Array, confidence: float) -> Array:
        """Return (m,) lower bounds of the chance of failing by ages (m,), of all lives ever seen.

        Lives withdrawn before an age count as if they had passed it, which can only lower it.
        """
        from scipy.special import betaincinv

        failed = np.concatenate([[0.0], self.ended])[
            np.searchsorted(self.ends, hours, side="right")
        ]
        rest = np.maximum(self.n_lives - failed, 0.0) + 1.0
        out = betaincinv(np.maximum(failed, 1e-9), rest, 1.0 - confidence)
        return np.asarray(np.where(failed > 0.0, out, 0.0))

    def life_low_h(self, p: float, confidence: float, *, added: float = 0.0) -> float:
        """Return the greatest age by which at most a share `p` fails, by the bound; 0 if none."""
        # ever fewer passed and ever more failed: the bound rises with age
        low, high = 0, len(self.hours)
        while low < high:
            middle = (low + high) // 2
            at = self.hours[middle : middle + 1]
            if self.failure_high(at, confidence, added=added)[0] <= p:
                low = middle + 1
            else:
                high = middle
        return float(self.hours[low - 1]) if low else 0.0

    def life_high_h(self, p: float, confidence: float) -> float | None:
        """Return the least age by which surely a share `p` had failed; None if at none."""
        low, high = 0, len(self.ends)
        while low < high:
            middle = (low + high) // 2
            if self.failure_low(self.ends[middle : middle + 1], confidence)[0] >= p:
                high = middle
            else:
                low = middle + 1
        return float(self.ends[low]) if low < len(self.ends) else None


def _surely_ended(spells: Spells) -> tuple[Array, Array]:
    """Return (j,) ages by which failures had surely happened, rising, and how many had by each."""
    known = failure_ages(spells)
    if known is not None:
        return distinct(known)
    bad = spells.failed
    ends, place = np.unique(spells.exit_upper[bad], return_inverse=True)
    return ends, np.cumsum(np.bincount(place, spells.weight[bad], len(ends)))
