"""Does one group have fewer or more failures than the others at equal ages? Exactly, by counting.

Whatever the hazard is, if it is the same for all engines of an age, then a failure at hours t falls
on the group with the group's share of the lives at risk there. Given the ages of all failures and
who was at risk, their number in the group is a sum of independent yes-or-no draws (each factor of
the partial likelihood: Cox 1972; the same expected number as in the log-rank test: Mantel 1966),
whose distribution is worked out and not approximated. The doubt of the others' rate is in it, no
curve is assumed, and ages that only one side reached count for nothing. With a hazard rho times
that of the others the odds of each draw are rho times as high, which gives limits of rho by
inverting both tails, as Clopper & Pearson (1934) do where all shares are equal.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import flags_of
from fleetstats.core.errors import FitError
from fleetstats.core.gate import FLAGS, LEVEL, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.product_limit import count_at_risk, lives_at_risk
from fleetstats.survival.lives import LIVES

FARTHEST = 1e6
"""Hazard ratios beyond this, or below its inverse, are no limit."""

EXACT_TO = 500.0
"""Failures up to which the distribution is worked out; beyond, a normal curve with the same mean,
spread and skewness stands for it, half a failure to the careful side (Volkova 1996)."""


@value
class EqualAges(Value):
    """Failures of a group beside those of all others, at equal ages.

    Parameters
    ----------
    n, n_others : float
        Failures of the two.
    expected : float
        Failures of the group at the hazard of the others alone, age by age; ages that no other
        engine reached bring none.
    shared : float
        Failures of the group if all engines had one hazard, given how many failed in all.
    n_compared : float
        Failures at ages that both sides reached; only these compare.
    ratio : float or None
        Hazard of the group over that of the others; None where neither side has a failure that
        compares, infinite where only the group has.
    low, high : float or None
        Exact limits at two-sided `level`; None where there is no limit, or none was asked for.
    p_fewer, p_more : float
        Chance of so few failures in the group, or fewer, and of so many, or more, at one hazard.
    level : float or None
    """

    n: float
    n_others: float
    expected: float
    shared: float
    n_compared: float
    ratio: float | None
    low: float | None
    high: float | None
    p_fewer: float
    p_more: float
    level: float | None


@gate(spells=LIVES, group=FLAGS, level=LEVEL.or_none)
def compare_equal_ages(
    spells: Spells, group: ArrayLike, *, level: float | None = 0.90
) -> EqualAges:
    """Compare the failures of some lives with those of all others, at equal ages.

    Parameters
    ----------
    spells : Spells
        All lives.
    group : (n,) bool
        Those of the group.
    level : float, optional
        Two-sided confidence of the limits of the ratio; None works out no limits, which take most
        of the time.

    Returns
    -------
    EqualAges
        Failures seen, those expected at equal ages, and the ratio of hazards with exact limits.

    Raises
    ------
    FitError
        If group or others are empty.

    References
    ----------
    Cox (1972), J. R. Statist. Soc. B 34, 187-220; Mantel (1966), Cancer Chemother. Rep. 50,
    163-170. Clopper & Pearson (1934), Biometrika 26, 404-413.

    Examples
    --------
    Two fleets of 20 alike in all but that one tells of no failure. Of those at risk at each of four
    failures about half are its own, so that none falls on it has the chance 1 in 19:

    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [1000] * 36 + [400, 500, 600, 700], [False] * 36 + [True] * 4)
    >>> silent = fs.compare_equal_ages(lives, [True] * 20 + [False] * 20)
    >>> silent.n, round(silent.expected, 1), round(silent.p_fewer, 3)
    (0.0, 4.3, 0.053)
    """
    mine = flags_of(group, "group", n=len(spells))
    if not mine.any() or mine.all():
        raise FitError("A group without lives cannot be compared.", "Both sides need lives.")
    inside = spells.select(mine)
    table, own = count_at_risk(spells), count_at_risk(inside)
    at_risk = lives_at_risk(inside, table.hours)
    others = table.at_risk - at_risk
    failed = np.zeros(len(table.hours))
    failed[np.searchsorted(table.hours, own.hours)] = own.n_failed
    both = (at_risk > 0.0) & (others > 0.0)
    odds = at_risk[both] / others[both]
    n_at, n_mine = table.n_failed[both], failed[both]
    draws = _Draws(odds=odds, n=n_at, seen=float(n_mine.sum()))
    shared = draws.mean(1.0)
    low, high = (None, None) if level is None else draws.limits(level)
    return EqualAges(
        n=float(own.n_failed.sum()),
        n_others=float(table.n_failed.sum() - own.n_failed.sum()),
        expected=float(((n_at - n_mine) * odds).sum()),
        shared=shared + float((table.n_failed * (others <= 0.0)).sum()),
        n_compared=draws.total,
        ratio=draws.ratio(),
        low=low,
        high=high,
        p_fewer=draws.p_fewer(1.0),
        p_more=draws.p_more(1.0),
        level=level,
    )


class _Draws:
    """Failures of a group among `n` at each age, each falling on it with odds ``rho * odds``."""

    def __init__(self, *, odds: Array, n: Array, seen: float) -> None:
        self.odds, self.n, self.seen = odds, n, seen
        self.total = float(n.sum())

    def mean(self, rho: float) -> float:
        """Return the expected number at hazard ratio `rho`."""
        return float((self.n * self._share(rho)).sum())

    def _share(self, rho: float) -> Array:
        return np.asarray(rho * self.odds / (1.0 + rho * self.odds))

    def p_fewer(self, rho: float) -> float:
        """Return the chance of as few as were seen, or fewer."""
        return self._tail(rho, fewer=True)

    def p_more(self, rho: float) -> float:
        """Return the chance of as many as were seen, or more."""
        return self._tail(rho, fewer=False)

    def _tail(self, rho: float, *, fewer: bool) -> float:
        share = self._share(rho)
        k = round(self.seen)
        if self.total > EXACT_TO:
            below = _smooth(share, self.n, k + 0.5 if fewer else k - 0.5)
            return below if fewer else 1.0 - below
        chance = chances(share, self.n)
        part = chance[: k + 1] if fewer else chance[k:]
        return min(float(part.sum()), 1.0)

    def ratio(self) -> float | None:
        """Return the ratio at which the expected number is the one seen (partial likelihood)."""
        if self.total == 0.0:
            return None
        if self.seen == 0.0:
            return 0.0
        if self.seen >= self.total:
            return math.inf
        return _solve(lambda rho: self.mean(rho) - self.seen)

    def limits(self, level: float) -> tuple[float | None, float | None]:
        """Return exact two-sided limits of the ratio."""
        tail = 0.5 * (1.0 - level)
        if self.total == 0.0:
            return None, None
        low = 0.0
        if self.seen > 0.0:
            low = _solve(lambda rho: self.p_more(rho) - tail) or 0.0
        high = None
        if self.seen < self.total:
            high = _solve(lambda rho: tail - self.p_fewer(rho))
        return low, high


def _smooth(share: Array, n: Array, x: float) -> float:
    """Return the chance of a sum of draws below `x`, by a normal curve corrected for skewness."""
    from scipy.special import ndtr

    variance = float((n * share * (1.0 - share)).sum())
    if variance <= 0.0:
        return float(x > float((n * share).sum()))
    skew = float((n * share * (1.0 - share) * (1.0 - 2.0 * share)).sum()) / variance**1.5
    z = (x - float((n * share).sum())) / math.sqrt(variance)
    bend = skew * (1.0 - z * z) * math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi) / 6.0
    return float(min(max(ndtr(z) + bend, 0.0), 1.0))


def _solve(f: Callable[[float], float]) -> float | None:
    """Return the ratio at which a rising function is 0; None beyond `FARTHEST`."""
    from scipy import optimize

    far = math.log(FARTHEST)
    if f(math.exp(-far)) >= 0.0 or f(math.exp(far)) <= 0.0:
        return None
    return math.exp(optimize.brentq(lambda x: f(math.exp(x)), -far, far, xtol=1e-9))


def chances(share: ArrayLike, n: ArrayLike) -> Array:
    """Return the chance of 0, 1, 2 … in a sum of independent draws.

    Parameters
    ----------
    share : (m,) float
        Chance of each kind of draw.
    n : (m,) float
        How many draws of the kind; rounded to whole ones.

    Returns
    -------
    (total + 1,) float

    Examples
    --------
    >>> chances([0.5], [2]).tolist()
    [0.25, 0.5, 0.25]
    """
    out = np.ones(1)
    for p, k in zip(np.asarray(share).tolist(), np.asarray(n).tolist(), strict=True):
        for _ in range(round(k)):
            grown = np.zeros(len(out) + 1)
            grown[:-1] = out * (1.0 - p)
            grown[1:] += out * p
            out = grown
    return out
