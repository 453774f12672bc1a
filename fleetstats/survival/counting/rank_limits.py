"""Limits of ranks: between which shares failed the i-th failure of n lives may lie."""

from __future__ import annotations

from fleetstats.core.gate import LEVEL, gate
from fleetstats.core.value import Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.plotting import estimate_median_ranks
from fleetstats.survival.lives import LIVES


@value
class RankLimits(Value):
    """Ranks of failures with their limits.

    Parameters
    ----------
    hours, rank : (r,) float
        One row per failure, rising; the rank is adjusted for running lives.
    estimate, low, high : (r,) float
        Share failed by then: its median and its limits.
    level : float
        Two-sided; each edge is the rank at ``(1 - level) / 2`` and ``(1 + level) / 2``.
    n : int
        Lives in all.
    """

    hours: Floats
    rank: Floats
    estimate: Floats
    low: Floats
    high: Floats
    level: float
    n: int

    def __repr__(self) -> str:
        return (
            f"Ranks of {len(self.hours)} failures among {self.n} lives, "
            f"{100 * self.level:g} % limits"
        )


@gate(spells=LIVES, level=LEVEL)
def estimate_rank_limits(spells: Spells, *, level: float = 0.90) -> RankLimits:
    """Give each failure its median rank and the ranks at both edges of a level.

    Parameters
    ----------
    spells : Spells
        As for `estimate_median_ranks`.
    level : float
        Two-sided.

    Returns
    -------
    RankLimits
        One row for each failure, by rising age.

    Raises
    ------
    ArgumentError
        If the level is not within 0 and 1.
    FitError
        As `estimate_median_ranks`.

    Notes
    -----
    The share failed at the i-th of n ages is beta (i, n - i + 1) whatever the law of lives, so with
    nothing running the limits are exact at each failure (Johnson 1951), and are those of a binomial
    share. With running lives the adjusted rank takes the place of i, and they are approximate.

    References
    ----------
    Johnson (1951), Industrial Mathematics 2, 1-9.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.survival.counting.rank_limits import estimate_rank_limits
    >>> ranks = estimate_rank_limits(fs.Spells.of(0, [100, 200, 300, 400, 500], [1] * 5))
    >>> float(ranks.low[0].round(4)), float(ranks.high[0].round(4))
    (0.0102, 0.4507)
    """
    from scipy.special import betaincinv

    middle = estimate_median_ranks(spells)
    rank, n = middle.rank, middle.n
    tail = 0.5 * (1.0 - level)
    return RankLimits(
        hours=middle.hours,
        rank=rank,
        estimate=middle.failure_probability,
        low=betaincinv(rank, n + 1 - rank, tail),
        high=betaincinv(rank, n + 1 - rank, 1.0 - tail),
        level=level,
        n=n,
    )
