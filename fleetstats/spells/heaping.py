"""Rounded hours: how far each source rounds, and failures widened to what a round figure means.

A failure written as 1,200 h by someone who rounds to 100 lies between 1,150 and 1,250. Taken as
exact, rounded failures make ties and, where the rounding is wide beside the spread of lives, a
wrong shape; the likelihood of the interval does not (Heitjan & Rubin 1990, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

WIDTHS_H = (100.0, 50.0, 10.0, 5.0)
"""Roundings looked for, coarsest first; each is a multiple of those after it."""

FINER = {100.0: 50.0, 50.0: 10.0, 10.0: 5.0, 5.0: 1.0}
"""The grid on which a value rounded more finely would lie."""

CHANCE = 0.001
"""A rounding is taken as one when chance would make so many round figures this seldom."""

FEWEST = 10
"""Figures on the finer grid below which nothing is said of rounding."""


@value
class Rounding(Value):
    """How hours are rounded.

    Parameters
    ----------
    widths : tuple of float
        Roundings in use, coarsest first, in hours; empty when none can be told.
    n : int
        Figures tested, those at `but_not` left out.
    chi2, p_digits : float
        Chi-squared of the last two digits against equal use (99 degrees of freedom), and its
        chance; None below 100 figures, where its distribution does not hold.
    shares : tuple of (width_h, n_on_finer_grid, n_round, expected, chance)
        For each width, the exact binomial test behind it.
    """

    widths: tuple[float, ...]
    n: int
    chi2: float | None
    p_digits: float | None
    shares: tuple[tuple[float, int, int, float, float], ...]

    def width_of(self, hours: ArrayLike) -> Array:
        """Return (n,) the rounding that each figure may carry, in hours; 0 when it is not round."""
        h = np.asarray(hours, dtype=np.float64)
        out = np.zeros(h.shape)
        for w in reversed(self.widths):
            out = np.where(_on(h, w), w, out)
        return out


def find_rounding(hours: ArrayLike, *, but_not: Sequence[float] = ()) -> Rounding:
    """Test hours for rounding to 5, 10, 50 and 100.

    Parameters
    ----------
    hours : (n,) float
        Hours of failures and other ends as written.
    but_not : sequence of float
        Figures to leave out, such as the overhaul interval, at which engines are taken off by
        plan and not by rounding.

    Returns
    -------
    Rounding
        Each width is tested against the next finer one: rounding to 50 alone leaves half of the
        figures at multiples of 100, which is no rounding to 100. Widths are tried from the
        coarsest, and the figures that one explains are left out for the next.
    """
    from scipy import special

    h = np.asarray(hours, dtype=np.float64)
    h = h[np.isfinite(h) & (h > 0)]
    for skip in but_not:
        h = h[np.abs(h - skip) > 1e-9]
    widths: list[float] = []
    shares: list[tuple[float, int, int, float, float]] = []
    left = np.ones(len(h), dtype=bool)
    for w in WIDTHS_H:
        grid = left & _on(h, FINER[w])
        n, k = int(grid.sum()), int((grid & _on(h, w)).sum())
        if n < FEWEST:
            continue
        expected = _expected(w, widths)
        chance = float(special.bdtrc(k - 1, n, expected)) if k > 0 else 1.0
        shares.append((w, n, k, expected, chance))
        if chance < CHANCE:
            widths.append(w)
            left &= ~_on(h, w)
    chi2 = p = None
    if len(h) >= 100:
        count = np.bincount(np.floor(h).astype(np.int64) % 100, minlength=100)
        chi2 = float(((count - len(h) / 100) ** 2).sum() / (len(h) / 100))
        p = float(special.chdtrc(99, chi2))
    return Rounding(widths=tuple(widths), n=len(h), chi2=chi2, p_digits=p, shares=tuple(shares))


def _on(h: Array, width: float) -> Array:
    return np.asarray(np.abs(h - width * np.round(h / width)) < 1e-6)


def _expected(width: float, found: list[float]) -> float:
    """Return the share of round figures on the finer grid, those already explained left out."""
    grid = np.arange(0.0, 100.0, FINER[width])
    free = np.ones(len(grid), dtype=bool)
    for w in found:
        free &= ~_on(grid, w)
    return float((_on(grid, width) & free).sum() / free.sum())


@value
class Widened(Value):
    """Spells whose rounded failures are interval-known, with the rounding of each source.

    `n_widened` counts the failures that became intervals.
    """

    spells: Spells
    roundings: tuple[tuple[str, Rounding], ...]
    n_widened: int


def widen_rounded(
    spells: Spells, *, but_not: Sequence[float] = (), by_source: bool = True
) -> Widened:
    """Turn failures written as round figures into what they mean: an interval.

    Parameters
    ----------
    spells : Spells
        Lives with hours as written; failures already known to an interval stay as they are.
    but_not : sequence of float
        Figures that are no sign of rounding, such as the overhaul interval.
    by_source : bool
        Test each source by itself, since each has its own habit.

    Returns
    -------
    Widened
        A failure at h of width w lies in ``(h − w/2, h + w/2]``, not before its entry.
    """
    sources = spells.source if by_source else np.full(len(spells), "")
    lower, upper = spells.exit_lower.copy(), spells.exit_upper.copy()
    roundings: list[tuple[str, Rounding]] = []
    exact = spells.failed & ~spells.interval_known
    widened = 0
    for name in np.unique(sources).tolist():
        mine = sources == name
        rounding = find_rounding(spells.exit_upper[mine], but_not=but_not)
        roundings.append((str(name), rounding))
        width = np.where(mine & exact, rounding.width_of(spells.exit_upper), 0.0)
        for skip in but_not:
            width = np.where(np.abs(spells.exit_upper - skip) < 1e-9, 0.0, width)
        lower = np.where(width > 0, np.maximum(lower - width / 2, spells.entry), lower)
        upper = np.where(width > 0, upper + width / 2, upper)
        widened += int((width > 0).sum())
    return Widened(
        spells=spells.replace(exit_lower=lower, exit_upper=upper),
        roundings=tuple(roundings),
        n_widened=widened,
    )
