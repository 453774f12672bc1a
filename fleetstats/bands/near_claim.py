"""What the engines counted up to an age allow, where the curve alone would be kinder.

A bound from a fitted curve holds if lives follow the curve. So beside it stands a bound that
assumes no shape, from every engine at risk on the way (`bands/product_bound.py`), at the deviate

    z(level) = SHARE z(asked) min(1, (r - 5) / 5),      r failures in all,

and the worse of both is quoted. It does not hold at the asked confidence by itself: it is there to
catch a curve that is wrong. With 5 failures or fewer it stays out, since they say little against a
curve; it comes in full at 10. It is asked at the failures up to an age, since what comes after the
last of them is for the curve to say, and what holds at an age holds at later ones.

No test of the fit decides, since one more failure bends the curve towards itself: with such a rule
one made a bound better by up to a third. This one it cannot better: each part is worse for it.

`SHARE` is chosen by simulation (250 engines, half of them past the claim; truths as in
``tests/coverage/test_near_claim_coverage.py``, which has the figures): the least that keeps claims
wrongly called supported at 7 in 100 or fewer.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.product_bound import ProductBound
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.spells.supposed.changed import distinct, failure_ages
from fleetstats.vocabulary.limits import ENOUGH_FOR_SHAPE, FEW_FOR_SHAPE

SHARE = 0.75
"""Share of the asked deviate: at one-sided 95 % the count stands at 89 %."""

MOST_AGES = 2000
"""Failures at which the bound is asked; of more, so many of them evenly."""


@value
class NearClaim(Value):
    """The bound near any age, for one fleet.

    Parameters
    ----------
    bound : ProductBound
    n_failed : float
        Failures in all.
    reach_h : float
        Hours at which the evidence ends; beyond them nothing is added.
    ages : (k,) float
        Ages in hours of the failures, rising, at which the bound is asked.
    """

    bound: ProductBound
    n_failed: float
    reach_h: float
    ages: Array

    @classmethod
    def of(cls, spells: Spells, *, least: float) -> NearClaim:
        """Prepare the bound, once for a fleet, from where to where `least` engines are at risk."""
        return kept(spells, ("near claim", least), lambda: cls._of(spells, least))

    @classmethod
    def _of(cls, spells: Spells, least: float) -> NearClaim:
        reach = spells.horizon_h(least=least)
        bound = ProductBound.of(spells, least=least)
        known = failure_ages(spells)
        if known is None:
            failed = np.unique(spells.exit_lower[spells.failed])
        else:
            failed = distinct(known)[0]
        ages = failed[(failed > bound.start_h) & (failed <= reach)]
        if len(ages) > MOST_AGES:
            ages = ages[np.linspace(0, len(ages) - 1, MOST_AGES).astype(int)]
        return cls(bound=bound, n_failed=spells.n_failed, reach_h=reach, ages=ages)

    def _level(self, confidence: float, added: float) -> float | None:
        """Return the level at which the bound is asked; None where it stays out."""
        from scipy.special import ndtr, ndtri

        few, enough = FEW_FOR_SHAPE, ENOUGH_FOR_SHAPE
        known = min((self.n_failed + added - few) / (enough - few), 1.0)
        if known <= 0.0 or not len(self.ages):
            return None
        return float(ndtr(SHARE * known * ndtri(confidence)))

    def failure_high(self, hours: Array, confidence: float, *, added: float = 0.0) -> Array:
        """Return (m,) what the chance of failing by ages (m,) may at least be taken for; 0: none.

        It never falls with age. `added` failures without hours count besides.
        """
        level = self._level(confidence, added)
        if level is None:
            return np.zeros(len(hours))
        until = np.searchsorted(self.ages, hours, side="right")
        if len(hours) == 1:
            ages = self.ages[: until[0]]
            return np.array([self.bound.greatest(ages, level, added=added)])
        each = self.bound.failure_high(self.ages, np.full(len(self.ages), level), added=added)
        return np.asarray(np.concatenate([[0.0], np.maximum.accumulate(each)])[until])

    def life_low_h(self, p: float, confidence: float, *, added: float = 0.0) -> float:
        """Return the age up to which the bound lets at most a share `p` fail; infinite if all."""
        level = self._level(confidence, added)
        if level is None:
            return float("inf")
        over = self.bound.exceeds(self.ages, p, level, added=added)
        return float(self.ages[int(np.argmax(over))]) if over.any() else float("inf")
