"""The partial likelihood of proportional hazards, with late entry, in work that grows with lives.

Sums over the lives at risk are taken only where a ratio needs them. The second derivatives need

    sum over failures of (sum over lives at risk of r x x') / (sum over lives at risk of r),

which is the sum over lives of r x x' times the step sum, over the failures that the life was at
risk at, of 1 / (sum of r): one product of matrices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.spells import Spells


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskSets:
    """Which of the m ages with a failure each of n lives was at risk at.

    `first` and `past` (n,) bound them; `place` (r,) is the age of each failure, by its row in
    `dead`; `count` (m,) failures and `deaths` (m,) their weight.
    """

    ages: Array
    first: Array
    past: Array
    dead: Array
    place: Array
    count: Array
    deaths: Array

    @classmethod
    def of(cls, lives: Spells) -> RiskSets:
        """Return the risk sets of lives, made once: at risk when entry < age <= exit."""
        return kept(lives, "risk-sets", lambda: cls._made(lives))

    @classmethod
    def _made(cls, lives: Spells) -> RiskSets:
        dead = np.flatnonzero(lives.failed)
        ages, place, count = np.unique(
            lives.exit_upper[dead], return_inverse=True, return_counts=True
        )
        place = place.ravel()
        return cls(
            ages=ages,
            first=np.searchsorted(ages, lives.entry, side="right"),
            past=np.searchsorted(ages, lives.exit_upper, side="right"),
            dead=dead,
            place=place,
            count=count,
            deaths=np.bincount(place, weights=lives.weight[dead], minlength=len(ages)),
        )

    def total(self, x: Array) -> Array:
        """Return (m,) sums of `x` (n,) over the lives at risk at each age."""
        m = len(self.ages)
        ends = np.bincount(self.past, weights=x, minlength=m + 1)
        late = self.first > 0
        if late.any():
            ends -= np.bincount(self.first[late], weights=x[late], minlength=m + 1)
        return np.asarray(np.cumsum(ends[:0:-1])[::-1])

    def over(self, x: Array) -> Array:
        """Return (n,) sums of `x` (m,) over the ages that each life was at risk at."""
        steps = np.concatenate([[0.0], np.cumsum(x)])
        return np.asarray(steps[self.past] - steps[self.first])

    def at_failures(self, x: Array) -> Array:
        """Return (m,) sums of `x` (n,) over the lives that failed at each age."""
        return np.bincount(self.place, weights=x[self.dead], minlength=len(self.ages))


def partial_parts(
    lives: Spells, x: Array, coef: Array, ties: str = "efron"
) -> tuple[float, Array, Array]:
    """Return the partial log-likelihood, its slope (k,) and minus its second derivatives (k, k).

    Parameters
    ----------
    lives : Spells
        n lives.
    x : (n, k) float
        Covariates.
    coef : (k,) float
        Coefficients.
    ties : {"efron", "breslow"}
        Efron's (1977): the j-th of d tied failures sees the risk set less j/d of what the tied ones
        bring, each with their mean weight. Breslow's (1974) see the whole risk set, all of them.
    """
    sets = RiskSets.of(lives)
    # One row a covariate: strided columns cost ten times as much.
    x = np.ascontiguousarray(x.T)
    eta = coef @ x
    risk = lives.weight * np.exp(eta)
    rows = [risk, *(risk * x)]
    sums = np.array([sets.total(c) for c in rows])
    own: Array | float = 0.0
    if ties == "efron" and len(sets.count) and sets.count.max() > 1:
        count = sets.count
        weight = np.repeat(sets.deaths / count, count)
        starts = np.cumsum(count) - count
        share = (np.arange(count.sum()) - np.repeat(starts, count)) / np.repeat(count, count)
        tied = np.array([sets.at_failures(c) for c in rows])
        sums = np.repeat(sums, count, axis=1) - share * np.repeat(tied, count, axis=1)
        each = weight / sums[0]
        step = np.add.reduceat(each, starts)
        own = np.zeros(len(risk))
        own[sets.dead] = np.add.reduceat(each * share, starts)[sets.place]
    else:
        weight = sets.deaths
        step = weight / sums[0]
    mean = sums[1:] / sums[0]
    seen = x * (risk * (sets.over(step) - own))
    w = lives.weight[sets.dead]
    value = float(w @ eta[sets.dead] - weight @ np.log(sums[0]))
    slope = x[:, sets.dead] @ w - seen.sum(axis=1)
    return value, slope, seen @ x.T - (mean * weight) @ mean.T


def moments_with_age(
    lives: Spells, x: Array, coef: Array, g: Array
) -> tuple[Array, Array, Array, Array]:
    """Return the score (k,) of ``x g(t)`` and, with g to the powers 0, 1, 2, spreads (k, k).

    Parameters
    ----------
    lives, x, coef
        As for `partial_parts`.
    g : (m,) float
        At each age with a failure. Moments of the risk set as Breslow ties take them.
    """
    sets = RiskSets.of(lives)
    x = np.ascontiguousarray(x.T)
    risk = lives.weight * np.exp(coef @ x)
    total = sets.total(risk)
    mean = np.array([sets.total(risk * row) for row in x]) / total
    seen = np.array([sets.at_failures(lives.weight * row) for row in x])
    score = (seen - sets.deaths * mean) @ g
    out = []
    for power in range(3):
        by = sets.deaths * g**power
        inside = (x * (risk * sets.over(by / total))) @ x.T
        out.append(inside - (mean * by) @ mean.T)
    return score, out[0], out[1], out[2]
