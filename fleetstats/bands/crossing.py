"""The age at which a chance of failing within some hours first exceeds a target, by its band.

Where the band is a mixture over shapes an edge lies above the target exactly where the posterior
probability of a chance below the target falls short of the edge's own, so no edge has to be solved
for at any age. Other methods have their edges computed. Ages are searched on a coarse grid, rising
by a constant factor; the crossing is then found between its two neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.bands.bayes.mixture import MIDDLE, OPTIMISTIC, PESSIMISTIC
from fleetstats.bands.choose import Asked
from fleetstats.bands.method import FEW
from fleetstats.core.value import Array

AGES = 25
"""Ages searched besides 0; each is a quarter greater than the one before. Given the shape a chance
rises or falls throughout, so an edge over shapes can fall and rise again but not the other way
round: a coarse grid does not step over its first crossing."""

FIRST_SHARE = 1.0 / 200.0
"""The least age searched above 0, as a share of the greatest."""

NEAR = 1e-9
"""An age is found to this share of itself, or of an hour where it is less."""


EDGES = ("low", "estimate", "high")
Age = float | None


def search_ages(far_h: float) -> Array:
    """Return the ages searched: 0, then rising by a constant factor to `far_h` hours."""
    return np.concatenate([[0.0], np.geomspace(FIRST_SHARE * far_h, far_h, AGES)])


Excess = Callable[[Array, Array], Array]
"""Ages (m,) in hours and the number (m,) of what is searched for each, to values (m,), above 0
where its target is exceeded. NaN is not above."""


def first_ages(excess: Excess, n: int, far_h: float, at_grid: Array | None = None) -> list[Age]:
    """Return the least ages at which excesses are above 0: 0 if from the start, None if never.

    Parameters
    ----------
    excess : callable
        The excesses of `n` searches.
    n : int
        How many are searched.
    far_h : float
        Greatest age searched, in hours.
    at_grid : (n, AGES + 1) float, optional
        The excesses at `search_ages`, where they are at hand.

    References
    ----------
    Chandrupatla 1997, for the root between two ages.
    """
    from scipy.optimize.elementwise import find_root

    ages = search_ages(far_h)
    if at_grid is None:
        which = np.repeat(np.arange(n), len(ages))
        at_grid = excess(np.tile(ages, n), which).reshape(n, len(ages))
    over = at_grid > 0.0
    first, ever = np.argmax(over, axis=1), np.any(over, axis=1).tolist()
    out: list[Age] = [float(a) if e else None for a, e in zip(ages[first], ever, strict=True)]
    rows = np.flatnonzero(over.any(axis=1) & (first > 0))
    rows = rows[np.isfinite(at_grid[rows, first[rows] - 1])]
    if len(rows):
        ends = (ages[first[rows] - 1], ages[first[rows]])
        found = find_root(excess, ends, args=(rows,), tolerances={"xrtol": NEAR, "xatol": NEAR})
        for i, age in zip(rows, found.x, strict=True):
            out[i] = float(age)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceSearch:
    """The chance of failing within `width_h` hours at every age to `far_h`, ready to be searched.

    `grid` holds the edges at `search_ages`, by their names, where the method computes edges.
    """

    asked: Asked
    width_h: float
    far_h: float
    grid: dict[str, Array]

    @classmethod
    def of(cls, asked: Asked, width_h: float, far_h: float) -> ChanceSearch:
        """Prepare the search of one fleet's chance."""
        grid: dict[str, Array] = {}
        if asked.mixture is None:
            curve = asked.curve("conditional", search_ages(far_h), width_h=width_h)
            grid = {e: getattr(curve, e) for e in EDGES}
        return cls(asked=asked, width_h=width_h, far_h=far_h, grid=grid)

    def first_ages(self, asked: Sequence[tuple[str, float]]) -> list[Age]:
        """Return the ages in hours at which edges of the chance first exceed targets.

        Parameters
        ----------
        asked : sequence of (str, float)
            An edge of the chance, ``"low"``, ``"estimate"`` or ``"high"``, and a chance in (0, 1).
            The high edge gives the pessimistic, earliest age.

        Returns
        -------
        list of float or None
            0 if it does from new; None if not up to `far_h`.
        """
        edges = np.array([e for e, _ in asked])
        targets = np.array([t for _, t in asked])
        at = self._mixed if self.asked.mixture is not None else self._computed
        grid = None
        if self.grid:
            grid = np.array([self.grid[e] - t for e, t in asked])
        return first_ages(
            lambda ages, which: at(ages, edges[which], targets[which]),
            len(asked),
            self.far_h,
            grid,
        )

    def _computed(self, ages: Array, edges: Array, targets: Array) -> Array:
        out = np.full(len(ages), np.nan)
        order = np.argsort(ages, kind="stable")  # a curve is asked at rising ages
        curve = self.asked.curve("conditional", ages[order], width_h=self.width_h)
        for edge in EDGES:
            out[order] = np.where(edges[order] == edge, getattr(curve, edge), out[order])
        return np.asarray(out - targets)

    def _mixed(self, ages: Array, edges: Array, targets: Array) -> Array:
        asked, mixed = self.asked, self.asked.mixture
        assert mixed is not None
        inner = np.maximum(ages, 1e-9 * mixed.reference_h)
        r, fit, tail = asked.spells.n_failed, asked.fit, 0.5 * (1.0 - asked.level)
        out = np.full(len(ages), np.nan)
        for edge, (share, added) in {
            "low": (tail, OPTIMISTIC),
            "estimate": (0.5, MIDDLE),
            "high": (1.0 - tail, PESSIMISTIC),
        }.items():
            mine = edges == edge
            if not mine.any() or (r == 0 and edge != "high"):
                continue  # nothing failed: only the pessimistic edge exists
            if edge == "estimate" and r >= FEW and fit is not None and fit.family == "weibull":
                out[mine] = fit.conditional_failure(inner[mine], self.width_h) - targets[mine]
                continue
            below = mixed.below_curve(
                "conditional", inner[mine], self.width_h, targets[mine], added=added
            )
            out[mine] = share - below
        return out
