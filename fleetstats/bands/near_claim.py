"""What the ages near a claim say where they contradict the curve: how the model's doubt is quoted.

A bound from a fitted curve holds if lives follow the curve. Where more failures lie from new to an
age than the curve expects there, the curve is too kind at that age, and the bound that assumes no
shape (`bands/product_bound.py`) must hold as well. Its level is that of a deviate

    z(level) = w z(asked),    w rising from 0 to 1 as seen minus expected, standardised,
                              rises from `FROM` to `FULL_AT`,

so it comes in by degrees (covariance of the difference: `survival/families/goodness`). With 5
failures or fewer it stays out, since they say little against a curve; it comes in full at 10. What
holds at an age holds at later ones: the bound is the worst of all ages up to there.

`FROM` and `FULL_AT` are chosen by simulation (250 engines, half of them past the claim; truths as
in ``tests/coverage/test_near_claim_coverage.py``): the smallest loss of honest claims under Weibull
lives that keeps claims wrongly called supported at 7 in 100 or fewer.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.product_bound import ProductBound
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.product_limit import ends
from fleetstats.survival.families.goodness import expected_failures, expected_slopes
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.limits import ENOUGH_FOR_SHAPE, FEW_FOR_SHAPE

FROM, FULL_AT = 1.5, 2.25
"""Standardised differences from which the bound without a shape counts, and at which in full."""

LEAST_VARIANCE = 0.1
"""Failures squared; a smaller variance is rounding, where the fit takes up all there is."""

MOST_AGES = 300
FINE = 64


@value
class NearClaim(Value):
    """The bound near any age, for a fleet and the curve fitted to it.

    Parameters
    ----------
    bound : ProductBound
    before : float
        Cumulative hazard of the curve up to the age from which the bound counts.
    fit : Fit
        Weibull fit.
    reach_h : float
        Hours at which the evidence ends; beyond them nothing is added.
    ages : (k,) float
        Ages at which the bound can be greatest: those of failures, and the reach.
    """

    bound: ProductBound
    before: float
    fit: Fit
    reach_h: float
    ages: Array

    @classmethod
    def of(cls, fit: Fit | None, *, least: float) -> NearClaim | None:
        """Prepare the bound, once for a fit; None without a curve that failures gave.

        The evidence reaches as far as `least` engines are at risk.
        """
        if fit is None or fit.n_failed <= FEW_FOR_SHAPE:
            return None
        return kept(fit, ("near claim", least), lambda: cls._of(fit, least))

    @classmethod
    def _of(cls, fit: Fit, least: float) -> NearClaim | None:
        spells: Spells = fit.spells
        reach = spells.horizon_h(least=least)
        bound = ProductBound.of(spells, least=least)
        failed = np.unique(spells.exit_lower[spells.failed])
        ages = failed[(failed > bound.start_h) & (failed <= reach)]
        if not len(ages):
            return None
        if len(ages) > MOST_AGES:
            ages = ages[np.linspace(0, len(ages) - 1, MOST_AGES).astype(int)]
        before = float(fit.cumulative_hazard(np.array([bound.start_h]))[0])
        return cls(bound=bound, before=before, fit=fit, reach_h=reach, ages=ages)

    def weight(self, hours: Array) -> Array:
        """Return (m,) how far the bound counts at ages (m,), rising: 0 not at all, 1 in full."""
        fit = self.fit
        edges = np.concatenate([[0.0], hours])
        expected = np.cumsum(expected_failures(fit, fit.estimate, edges))
        slopes = np.cumsum(expected_slopes(fit, edges), axis=0)
        variance = expected - np.einsum("ij,jk,ik->i", slopes, fit.covariance, slopes)
        s = fit.spells
        order = np.argsort(ends(s)[s.failed])
        number = np.concatenate([[0.0], np.cumsum(s.weight[s.failed][order])])
        seen = number[np.searchsorted(ends(s)[s.failed][order], hours, side="right")]
        gap = (seen - expected) / np.sqrt(np.maximum(variance, LEAST_VARIANCE))
        known = (fit.n_failed - FEW_FOR_SHAPE) / (ENOUGH_FOR_SHAPE - FEW_FOR_SHAPE)
        return np.asarray(np.clip((gap - FROM) / (FULL_AT - FROM), 0.0, 1.0) * min(known, 1.0))

    def failure_high(self, hours: Array, confidence: float, *, added: float = 0.0) -> Array:
        """Return (m,) what the chance of failing by ages (m,) may at least be taken for; 0: none.

        It never falls with age. `added` failures without hours count besides.
        """
        at = np.minimum(hours, self.reach_h)
        every = np.unique(np.concatenate([self.ages, at]))
        most = np.maximum.accumulate(self._raw(every, confidence, added))
        return np.asarray(most[np.searchsorted(every, at)])

    def _raw(self, hours: Array, confidence: float, added: float) -> Array:
        from scipy.special import ndtr, ndtri

        w = self.weight(hours)
        high = self.bound.failure_high(hours, ndtr(w * ndtri(confidence)), added=added)
        lives = np.exp(-self.before) * (1.0 - high)
        return np.asarray(np.where((w > 0.0) & (hours > self.bound.start_h), 1.0 - lives, 0.0))

    def life_low_h(self, p: float, confidence: float, *, added: float = 0.0) -> float:
        """Return the age up to which the bound lets at most a share `p` fail; infinite if all."""
        ages = np.unique(np.concatenate([self.bound.hours, self.ages]))
        ages = ages[ages <= self.reach_h]
        for _ in range(4):
            over = self.failure_high(ages, confidence, added=added) > p
            if not over.any():
                return float("inf")
            i = int(np.argmax(over))
            ages = np.linspace(ages[i - 1] if i else 0.0, ages[i], FINE)
        return float(ages[int(np.argmax(self.failure_high(ages, confidence, added=added) > p)) - 1])
