"""A bound that assumes no shape, from every engine at risk on the way: products of beta variables.

Between one failure and the next the hazard that n engines go through is an exponential variable
over n, whatever the law of life. So the chance of living to an age is, as far as its pessimistic
edge goes, a product of beta variables: Beta(n, 1) for the n at risk at each failure and one more
for those that then pass the age (Fay, Brittain & Proschan 2013, *Pointwise confidence intervals for
a survival distribution with small samples or heavy censoring*, Biostatistics 14; the product by
their method of moments). Without censoring it is Clopper & Pearson's limit. Withdrawn engines count
as long as they ran, which `shape_free.Settled` cannot say; where engines are heard of late the
least number at risk since the failure before counts, since hazard could lie where fewest met it.

A failure added never betters the bound at its age or beyond, and hours added never worsen it.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from fleetstats.bands.by_age import ByAge
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells


def least_since(at_risk: Array, left: Array, bad: Array) -> Array:
    """Return (k,) the least number at risk since the age of the failure before, up to each age.

    What that failure left counts too. The running least starts again at each failure: the numbers
    are ranked, and the ranks of each run set below all those of the run before.
    """
    after = np.flatnonzero(bad[:-1]) + 1
    numbers = np.insert(at_risk, after, left[after - 1])
    new = np.zeros(len(numbers), dtype=np.bool_)
    new[after + np.arange(len(after))] = True
    if (numbers == np.floor(numbers)).all() and numbers.max(initial=0.0) * len(numbers) < 2.0**52:
        # whole numbers, set below those of the run before by themselves
        lower = np.cumsum(new) * (numbers.max(initial=0.0) + 1.0)
        return np.asarray((np.minimum.accumulate(numbers - lower) + lower)[~new])
    run = np.cumsum(new) * len(numbers)
    order = np.argsort(numbers, kind="stable")
    rank = np.empty(len(numbers), dtype=np.int64)
    rank[order] = np.arange(len(numbers))
    least = np.minimum.accumulate(rank - run) + run
    return np.asarray(numbers[order][least][~new])


@value
class ProductBound(Value):
    """Upper bounds of the chance of failing between `start_h` and any later age.

    Parameters
    ----------
    start_h : float
        Age in hours from which engines enough are at risk.
    hours : (k,) float
        Ages, rising, at which a failure falls or the number at risk changes.
    short, passed : (k,) float
        Least number at risk since the failure before, up to just short of each age; and past it.
    log_first, log_second : (k,) float
        Log moments of the product of the failures up to each.
    """

    start_h: float
    hours: Array
    short: Array
    passed: Array
    log_first: Array
    log_second: Array

    _not_in_dict: ClassVar[tuple[str, ...]] = (
        "hours",
        "short",
        "passed",
        "log_first",
        "log_second",
    )

    @classmethod
    def of(cls, spells: Spells, *, least: float) -> ProductBound:
        """Count the engines of a fleet from the first age at which `least` are at risk.

        A failure known to lie in an interval counts from its lower end.
        """
        by_age = ByAge.of_spells(spells)
        ages, at_risk, bad = by_age.ages, by_age.at_risk, by_age.failed
        enough = np.flatnonzero(at_risk >= least)
        first = int(enough[0]) if len(enough) else len(ages)
        begin = float(ages[first - 1]) if 0 < first < len(ages) else 0.0
        return cls._of_counts(begin, ages[first:], at_risk[first:], bad[first:])

    @classmethod
    def _of_counts(
        cls, start_h: float, hours: Array, at_risk: Array, failed: Array
    ) -> ProductBound:
        bad = failed > 0.0
        short = least_since(at_risk, at_risk - failed, bad)
        n = np.where(bad, short, 0.0)
        n[n < 0.0] = np.nan  # more failed than were there: past it nothing is bounded
        left = np.where(bad, np.maximum(n - failed, 0.0), n)
        return cls(
            start_h=start_h,
            hours=hours,
            short=short,
            passed=np.where(bad, at_risk - failed, short),
            log_first=np.cumsum(np.log((left + 1.0) / (n + 1.0))),
            log_second=np.cumsum(np.log((left + 1.0) * (left + 2.0) / ((n + 1.0) * (n + 2.0)))),
        )

    def failure_high(self, hours: Array, confidence: Array, *, added: float = 0.0) -> Array:
        """Return (m,) upper bounds of the chance of failing by ages (m,), at confidence (m,).

        `added` failures without hours count besides, each where fewest were at risk. 1 where no
        engine passed the age, 0 before `start_h`.
        """
        from scipy.special import betaincinv

        a, b, ok = self._beta(hours, added)
        high = np.where(ok, betaincinv(b, a, confidence), 1.0)
        return np.asarray(np.where(hours > self.start_h, high, 0.0))

    def exceeds(self, hours: Array, p: float, confidence: float, *, added: float = 0.0) -> Array:
        """Return (m,) whether the bounds of `failure_high` are above `p`, without those."""
        from scipy.special import betainc

        a, b, ok = self._beta(hours, added)
        over = np.where(ok, betainc(b, a, min(p, 1.0)) < confidence, p < 1.0)
        return np.asarray(np.where(hours > self.start_h, over, p < 0.0))

    def greatest(self, hours: Array, confidence: float, *, added: float = 0.0) -> float:
        """Return the greatest of the bounds of `failure_high` by ages (m,); 0 for none."""
        if not len(hours):
            return 0.0
        level = np.array([confidence])
        last = float(self.failure_high(hours[-1:], level, added=added)[0])
        a, b, ok = self._beta(hours, added)
        # bounds mostly rise with age: no law with these moments (Cantelli 1928) has a quantile past
        # them, which leaves few; and to ask which exceed takes a quarter of the time of a bound
        mean = b / (a + b)
        spread = np.sqrt(mean * (1.0 - mean) / (a + b + 1.0))
        most = mean + spread * np.sqrt(confidence / (1.0 - confidence))
        near = hours[~ok | (most >= last * (1.0 - 1e-9))]
        more = near[self.exceeds(near, last, confidence, added=added)]
        high = self.failure_high(more, np.full(len(more), confidence), added=added)
        return float(max(last, high.max(initial=0.0)))

    def _beta(self, hours: Array, added: float) -> tuple[Array, Array, Array]:
        """Return (m,) both parameters of the chance of passing, and where it has a law."""
        if not len(self.hours):
            return np.ones_like(hours), np.ones_like(hours), np.zeros(len(hours), dtype=np.bool_)
        i = np.searchsorted(self.hours, hours, side="left")
        within = i < len(self.hours)
        j = np.minimum(i, len(self.hours) - 1)
        exact = within & (self.hours[j] == hours)
        before = np.maximum(j - 1, 0)
        m1 = np.where(exact, self.log_first[j], np.where(j > 0, self.log_first[before], 0.0))
        m2 = np.where(exact, self.log_second[j], np.where(j > 0, self.log_second[before], 0.0))
        n = np.where(within, np.where(exact, self.passed[j], self.short[j]), 0.0)
        if added > 0.0:
            n = np.minimum(n, np.minimum.accumulate(self.passed)[j])
        n = np.maximum(n, 0.0)
        m1 = np.exp(m1) * n / (n + 1.0 + added)
        m2 = np.exp(m2) * n * (n + 1.0) / ((n + 1.0 + added) * (n + 2.0 + added))
        spread = np.maximum(m2 - m1 * m1, 1e-300)
        size = m1 * (1.0 - m1) / spread - 1.0
        ok = (n > 0.0) & (size > 0.0)
        return np.where(ok, m1 * size, 1.0), np.where(ok, (1.0 - m1) * size, 1.0), ok
