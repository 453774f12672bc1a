"""Random weights on engines, drawn in blocks that do not depend on how memory is cut.

Fractional weights are Exp(1), as many as a row stands for lives; only their ratios matter to a
fit, so dividing by their sum (Dirichlet) changes nothing (Xu, Gotwalt, Hong, King & Meeker 2020).
Poisson weights are whole and may lose a failure. A weight belongs to an engine: all its rows
share it, for the lives of one engine are not independent evidence.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import ClassVar

import numpy as np

from fleetstats.core.errors import BandError
from fleetstats.core.kept import kept
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import RowsChanged, change_of, engines_of
from fleetstats.vocabulary.ids import id_order

DRAW_BLOCK = 1024
"""Draws of one random stream. Part of what a seed means: changing it changes every draw."""

UNIT_CHUNK = 2048
"""Engines of one random stream; a block of weights is at most 16 MB."""

SCHEMES = ("fractional", "poisson")


@value
class Resampling(Value):
    """What is weighted: engines, and how many lives each stands for.

    Parameters
    ----------
    unit_of_row : (n,) int
        Engine of each row, numbered in the order of ids (`records.life.id_order`).
    lives : (U,) float
        Lives that an engine's draw stands for; 1 unless its rows were collapsed.
    row_weight : (n,) float
        What multiplies the draw of each row.
    n_draws, seed, scheme
        How many draws, from which seed, ``"fractional"`` or ``"poisson"``.
    """

    unit_of_row: Array
    lives: Array
    row_weight: Array
    n_draws: int
    seed: int
    scheme: str

    _not_in_dict: ClassVar[tuple[str, ...]] = ("unit_of_row", "lives", "row_weight")

    @classmethod
    def of_spells(cls, spells: Spells, n: int, *, seed: int, scheme: str) -> Resampling:
        """Plan the resampling of spells.

        Raises
        ------
        BandError
            If the scheme is unknown or `n` is not positive.
        """
        if scheme not in SCHEMES:
            raise BandError(f"Scheme '{scheme}' is not known.", "Use 'fractional' or 'poisson'.")
        if n < 1:
            raise BandError(f"{n} resamples.", "Ask for one or more.")
        change = further_engines(spells)
        if change is not None:
            before = cls.of_spells(change.before, n, seed=seed, scheme=scheme)
            return before._with_engines(spells.weight[change.come])
        key = ("resampling", n, seed, scheme)
        return kept(spells, key, lambda: cls._plan(spells, n, seed, scheme))

    @classmethod
    def _plan(cls, spells: Spells, n: int, seed: int, scheme: str) -> Resampling:
        units, row_unit = np.unique(spells.unit, return_inverse=True)
        # who gets which draw must not hang on how ids are spelt
        place = np.empty(len(units), dtype=np.int64)
        ids = list(map(id_order, units.tolist()))
        place[sorted(range(len(ids)), key=ids.__getitem__)] = np.arange(len(ids))
        row_unit = place[row_unit.ravel()]
        first = np.full(len(units), np.inf)
        last = np.zeros(len(units))
        np.minimum.at(first, row_unit, spells.weight)
        np.maximum.at(last, row_unit, spells.weight)
        # an engine whose rows all stand for m lives draws the sum of m weights; unequal weights
        # are not counts of lives, so they multiply one draw
        lives = np.where(first == last, first, 1.0)
        weight = np.where(first == last, 1.0, np.nan)[row_unit]
        return cls(
            unit_of_row=row_unit,
            lives=lives,
            row_weight=np.where(np.isnan(weight), spells.weight, weight),
            n_draws=n,
            seed=seed,
            scheme=scheme,
        )

    def _with_engines(self, weight: Array) -> Resampling:
        """Return the plan with further engines (k,), of one row each, that stand last."""
        n = len(self.lives)
        return Resampling(
            unit_of_row=np.append(self.unit_of_row, n + np.arange(len(weight))),
            lives=np.append(self.lives, weight),
            row_weight=np.append(self.row_weight, np.ones(len(weight))),
            n_draws=self.n_draws,
            seed=self.seed,
            scheme=self.scheme,
        )

    @staticmethod
    def whole_chunks(spells: Spells) -> int:
        """Return how many whole chunks the engines of some spells make."""
        return len(engines_of(spells)) // UNIT_CHUNK if len(spells) >= UNIT_CHUNK else 0

    @property
    def n_chunks(self) -> int:
        """Return how many chunks all engines make."""
        return -(-len(self.lives) // UNIT_CHUNK)

    @property
    def n_whole(self) -> int:
        """Return how many chunks are whole: with further engines they stay what they are."""
        return len(self.lives) // UNIT_CHUNK

    @property
    def n_blocks(self) -> int:
        """Return the number of blocks of draws."""
        return -(-self.n_draws // DRAW_BLOCK)

    def chunks(self) -> Iterator[tuple[int, slice]]:
        """Yield the number and the engines of each chunk."""
        for i, start in enumerate(range(0, len(self.lives), UNIT_CHUNK)):
            yield i, slice(start, min(start + UNIT_CHUNK, len(self.lives)))

    def draws_of(self, block: int) -> slice:
        """Return the draws of a block."""
        return slice(block * DRAW_BLOCK, min((block + 1) * DRAW_BLOCK, self.n_draws))

    def draw(self, block: int, chunk: int, units: slice) -> Array:
        """Return (draws, units) weights of one block and chunk; the same whenever asked."""
        rng = stream(self.seed, f"refit-{self.scheme}", block * 2**24 + chunk)
        lives = self.lives[units]
        drawn = self.draws_of(block)
        # rows are drawn one after the other: a block broken off begins as a whole one does
        size = (drawn.stop - drawn.start, len(lives))
        plain = bool(np.all(lives == 1.0))
        if self.scheme == "poisson":
            return np.asarray(rng.poisson(1.0 if plain else lives, size), dtype=np.float64)
        return rng.standard_exponential(size) if plain else rng.standard_gamma(lives, size)

    def weights_of(self, block: int) -> Array:
        """Return (draws, n) row weights of a whole block; for small fleets."""
        w = np.concatenate([self.draw(block, c, u) for c, u in self.chunks()], axis=1)
        return np.asarray(w[:, self.unit_of_row] * self.row_weight)


def further_engines(spells: Spells) -> RowsChanged | None:
    """Return by what a fleet differs from the one before, if that is further engines alone.

    None unless each of these has one row, in their order behind all others, as their ids stand.
    """
    change = change_of(spells)
    if change is None or len(change.gone):
        return None
    names = spells.unit[change.come].tolist()
    n = len(change.before)
    if change.come.tolist() != list(range(n, n + len(names))) or len(spells) != n + len(names):
        return None
    forms = [kept(change.before, "last id", lambda: _last_id(change.before)), *map(id_order, names)]
    return change if all(a < b for a, b in pairwise(forms)) else None


def _last_id(spells: Spells) -> str:
    return max(map(id_order, engines_of(spells)), default="")
