"""How many unreported failures would turn a verdict.

An unreported failure is an engine that nobody told of: a further life from new that failed at some
age. Early failures move the shape, late ones the scale, so three placings are tried and the worst
one counts. Failures that the records hold and leave out are counted already, where they hurt most.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.advice.judge import is_supported
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import Same, kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.spells.scenarios import fail_at_end
from fleetstats.spells.supposed.changed import note_change
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit

__all__ = [
    "PLACINGS",
    "Tipping",
    "add_hidden",
    "add_spread",
    "count_hidden",
    "hidden_ages",
    "least_count",
    "suppose_hidden",
]

EARLY_SHARE = 0.25
"""Early placing: at a quarter of the claimed hours."""

MOST_HIDDEN = 1024
"""Unreported failures tried before the count is said to be more than that."""

MOST_APART = 10_000
"""Unreported failures at ages of their own: a register may list millions of engines."""

FAILED_A_HIDDEN = 100
"""Failures for each unreported one that is tried first, so that the answer takes few askings."""

PLACINGS = ("early", "spread", "late")


@value
class Tipping(Value):
    """Least number of unreported failures that turns a supported claim, by placing of their ages.

    None: more than `MOST_HIDDEN`. 0: not supported as it stands. `least` is the worst of all.
    """

    early: int | None
    spread: int | None
    late: int | None

    @property
    def least(self) -> int | None:
        """Return the smallest count over the placings."""
        known = [k for k in (self.early, self.spread, self.late) if k is not None]
        return min(known) if known else None


def hidden_ages(k: int, hours: float, placing: str) -> Array:
    """Return the ages of `k` unreported failures: all early, evenly spread, or all at `hours`.

    Failures at one age would leave a fit without a maximum when there are no others, so they are
    set a hundredth apart.
    """
    if placing == "spread":
        return np.asarray(hours * (np.arange(k) + 0.5) / k)
    at = hours if placing == "late" else EARLY_SHARE * hours
    return np.asarray(at * (1.0 - 0.01 * np.arange(k) / max(k - 1, 1)))


def add_hidden(spells: Spells, ages: Array, weight: Array | None = None) -> Spells:
    """Return the spells with one further life from new, failed, for each of `ages`.

    Each stands for so many as `weight` says.
    """
    if not len(ages):
        return spells
    names = np.array([f"unreported {i + 1}" for i in range(len(ages))])
    more = spells.join(Spells.of(0.0, ages, np.ones(len(ages)), unit=names, weight=weight))
    return note_change(more, spells, [], len(spells) + np.arange(len(ages)))


def add_spread(spells: Spells, k: int, hours: float) -> Spells:
    """Return the spells with `k` unreported failures spread evenly up to `hours`.

    More than `MOST_APART` of them stand at so many ages, as nearly as many at each.
    """
    apart = min(k, MOST_APART)
    weight = np.diff(np.round(np.linspace(0.0, k, apart + 1))) if apart < k else None
    return add_hidden(spells, hidden_ages(apart, hours, "spread"), weight)


def suppose_hidden(lives: Quoter, k: int, hours: float, placing: str) -> Quoter:
    """Return the fleet with `k` unreported failures up to `hours`, to be asked as it is itself."""
    if k == 0:
        return lives
    more = add_hidden(lives.spells, hidden_ages(k, hours, placing))
    return Quoter.of(more, try_fit(more), lives.settings, recorded=lives)


def least_count(
    turns: Callable[[int], bool], most: int = MOST_HIDDEN, *, first: int = 1
) -> int | None:
    """Return the least k from 0 on with ``turns(k)``; None if not by `most`.

    Doubles from `first` on, then halves: `turns` is taken to stay true once it is.
    """
    if turns(0):
        return 0
    low, high = 0, first
    while not turns(high):
        low, high = high, 2 * high
        if high > most:
            return None
    while high - low > 1:
        mid = (low + high) // 2
        low, high = (low, mid) if turns(mid) else (mid, high)
    return high


def least_among(lives: Quoter, which: Array, hours: float, target: float) -> int | None:
    """Return the least number of lives of `which` that, failed at their ends, turn a claim.

    Parameters
    ----------
    lives : Quoter
        The fleet as recorded.
    which : (n,) bool
        Lives whose ends may have been failures.
    hours, target : float
        The claim: reliability `target` at `hours`.

    Returns
    -------
    int or None
        0 where the claim is not shown as it stands; None where no number of them turns it.

    Notes
    -----
    To first order, a failure at hours t in place of a running engine moves the log hazard at any
    age by ``a + b log t``, so what moves it most is the youngest or the oldest of them. Both orders
    are counted, and the smaller number stands.
    """
    if not is_supported(lives, hours, target):
        return 0
    rows = np.flatnonzero(which)
    rows = rows[np.argsort(lives.spells.exit_upper[rows], kind="stable")]
    n = len(rows)

    def turns(order: Array, k: int) -> bool:
        some = np.zeros(len(lives.spells), dtype=bool)
        some[order[:k]] = True
        changed = fail_at_end(lives.spells, some)
        quoter = Quoter.of(changed, try_fit(changed), lives.settings)
        return k > 0 and not is_supported(quoter, hours, target)

    counts = [least_count(lambda k, o=o: turns(o, min(k, n)), 2 * n) for o in (rows, rows[::-1])]  # type: ignore[misc]
    known = [k for k in counts if k is not None and k <= n]
    return min(known) if known else None


def count_hidden(
    spells: Spells, fit: Fit | None, settings: Settings, *, hours: float, accepted: float
) -> Tipping:
    """Return how many unreported failures would leave `accepted` by `hours` no longer shown.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Confidence, shapes, prior.
    hours : float
        Claimed hours; also the latest age of an unreported failure.
    accepted : float
        Accepted chance of failure by those hours.
    """
    key = ("hidden failures counted", Same(fit), Same(settings), hours, accepted)
    return kept(spells, key, lambda: _count_hidden(spells, fit, settings, hours, accepted))


def _count_hidden(
    spells: Spells, fit: Fit | None, settings: Settings, hours: float, accepted: float
) -> Tipping:
    own = Quoter.of(spells, fit, settings)
    target = 1.0 - accepted
    if not is_supported(own, hours, target):
        return Tipping(early=0, spread=0, late=0)
    first = _first_tried(own, hours, target)

    def counted(placing: str) -> int | None:
        def turns(k: int) -> bool:
            return k > 0 and not is_supported(suppose_hidden(own, k, hours, placing), hours, target)

        return least_count(turns, first=first)

    early, spread, late = (counted(p) for p in PLACINGS)
    return Tipping(early=early, spread=spread, late=late)


def _first_tried(own: Quoter, hours: float, target: float) -> int:
    """Return the number of unreported failures to try first, a power of two.

    That a few more turn thousands of failures is not to be expected, and each asking takes long:
    about so many do that the bound of the cumulative hazard, which grows with the failures counted,
    meets the target's.
    """
    n_failed = own.spells.n_failed
    many = n_failed / FAILED_A_HIDDEN
    if many < 2.0:
        return 1
    low = own.interval(Quantity.reliability(hours)).low
    if low is not None and target < low < 1.0:
        many = max(many, n_failed * (math.log(target) / math.log(low) - 1.0))
    return int(min(2 ** (int(many).bit_length() - 1), MOST_HIDDEN))
