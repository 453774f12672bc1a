"""Looking back: at which date did the rate at equal ages change, if it did?

Every month is tried. The greatest likelihood ratio over them is set beside those of fleets in
which each failure's month is drawn anew by its shares, so that the chance is held over all dates
and needs no law of large numbers.
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.gate import LEVEL, PROBABILITY, SEED, TEXT, an, counted, gate
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.change.fleets import count_fleets
from fleetstats.survival.change.ratio import FACTORS, best_at, sums_of_months, with_one
from fleetstats.survival.change.shares import MonthShares
from fleetstats.survival.groups.rate_ratio import compare_rates

RESAMPLED = 1999
"""Fleets drawn under "no change"."""

LEAST_SHARE = 1e-9
"""A date before or after which less than this share was expected is no date of a change."""


@value
class Change(Value):
    """The best date of a change of one subject's rate, and what speaks for it.

    Parameters
    ----------
    n : int
        Failures compared.
    day, day_low, day_high : float
        First day of the new rate as an ordinal, by the likelihood, with limits at `level`.
    n_before, n_after, expected_before, expected_after : float
        Failures on both sides, and those expected there at equal ages of the same total.
    factor, low, high : float or None
        Rate after over rate before at equal ages; None where there is no limit, or none before.
        The limits are the widest over the dates between `day_low` and `day_high`.
    ratio : float
        Greatest log likelihood ratio over the dates.
    critical : float
        What it exceeds with the chance `flag` in fleets in which nothing changed.
    p_value : float
        Chance of so great a ratio at any date, if nothing changed.
    chance_after : float
        Chance that so many of the failures fall on that side of this one date, exactly.
    """

    n: int
    day: float
    day_low: float
    day_high: float
    n_before: float
    n_after: float
    expected_before: float
    expected_after: float
    factor: float | None
    low: float | None
    high: float | None
    ratio: float
    critical: float
    p_value: float
    chance_after: float
    level: float
    by_day: Floats

    _not_in_dict = ("by_day",)

    @property
    def rose(self) -> bool:
        """Return whether more came after the date than expected."""
        return self.n_after > self.expected_after

    @property
    def new(self) -> bool:
        """Return whether none came before the date."""
        return self.n_before == 0


@gate(
    shares=an(MonthShares, "Make them by month_shares."),
    seed=SEED,
    name=TEXT,
    level=LEVEL,
    n=counted(1),
    flag=PROBABILITY,
)
def scan_change(
    shares: MonthShares,
    *,
    seed: int,
    name: str = "",
    level: float = 0.90,
    n: int = RESAMPLED,
    flag: float = 0.05,
) -> Change | None:
    """Return the best date of a change; None without a failure or with one month only.

    Parameters
    ----------
    shares : MonthShares
        Failures of one subject by month.
    seed : int
        Of the study.
    name : str
        Of the subject; its draws do not depend on the other subjects.
    level : float
        Two-sided confidence of date and factor.
    n : int
        Fleets drawn.
    flag : float
        Chance at which `critical` flags: that of one of several subjects.

    Returns
    -------
    Change or None
        None without a failure, or with one month only.

    References
    ----------
    .. [1] Hansen, B. E. (2000). Econometrica 68, 575-603: limits of a date by the likelihood, whose
       drop exceeds ``-log(1 - sqrt(level))`` with chance 1 - level (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> born = np.arange(700_000.0, 700_060.0)
    >>> lines = fs.CalendarLines(
    ...     entry_h=np.zeros(60),
    ...     end_h=np.linspace(400, 800, 60),
    ...     entry_day=born,
    ...     end_day=born + 900,
    ...     weight=np.ones(60),
    ... )
    >>> shares = fs.month_shares(lines, range(0, 60, 5), fs.month_edges(700_000, 700_960))
    >>> told = fs.scan_change(shares, seed=1, n=99)
    >>> print(told.n_after, told.p_value, round(told.low, 1))
    12.0 0.01 9.9
    """
    if not len(shares) or shares.share.shape[1] < 2:
        return None
    seen, share = shares.after()
    total = float(len(shares))
    allowed = (share > LEAST_SHARE) & (share < 1.0 - LEAST_SHARE)
    if not allowed.any():
        return None
    told, null = _ratios(shares, seen, allowed, n, stream(seed, f"change-{name}"))
    best = int(np.argmax(told))
    near = np.flatnonzero(allowed & (told[best] - told <= -math.log1p(-math.sqrt(level))))
    first = shares.edge_day[1:-1] + 1.0
    after, before = seen[best], total - seen[best]
    due = total * share[best]
    at = compare_rates(after, due, before, total - due, level=level)
    low, high = _widest(seen, share, total, near, level)
    more = after > due
    back = compare_rates(before, total - due, after, due)
    return Change(
        n=len(shares),
        day=float(first[best]),
        day_low=float(first[near[0]]),
        day_high=float(first[near[-1]]),
        n_before=before,
        n_after=after,
        expected_before=total - due,
        expected_after=due,
        factor=None if before == 0 else at.ratio,
        low=low,
        high=high,
        ratio=float(told[best]),
        critical=float(np.quantile(null, 1.0 - flag)),
        p_value=float((1 + (null >= told[best] - 1e-9).sum()) / (n + 1)),
        chance_after=at.p_greater if more else back.p_greater,
        level=level,
        by_day=told,
    )


def _ratios(
    shares: MonthShares, seen: Array, allowed: Array, n: int, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return (d,) ratios of the dates, and (n,) greatest of fleets in which nothing changed.

    Their failures fall on months by their shares. `seen` holds the failures after each date, and
    only `allowed` dates count.
    """
    counts = count_fleets(shares.share, n, rng)
    after = np.cumsum(counts[:, ::-1], axis=1)[:, ::-1][:, 1:]
    every = np.concatenate([seen.astype(np.int64)[None, :], after])
    tried = with_one(FACTORS)
    found = best_at(sums_of_months(shares, tried), tried, every, len(shares))
    found = np.where(allowed, found, 0.0)
    return found[0], found[1:].max(axis=1)


def _widest(
    seen: Array, share: Array, total: float, near: Array, level: float
) -> tuple[float | None, float | None]:
    """Return the exact limits of the factor, the widest over the dates that may be right."""
    lows, highs = [], []
    for i in near.tolist():
        due = total * share[i]
        at = compare_rates(seen[i], due, total - seen[i], total - due, level=level)
        lows.append(at.low)
        highs.append(at.high)
    low = None if None in lows else min(x for x in lows if x is not None)
    high = None if None in highs else max(x for x in highs if x is not None)
    return low, high
