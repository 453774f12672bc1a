"""Does one source, build or engine carry the answer, or would any other loss move it as far?

A conclusion near its limit turns when records are taken away, whichever they are: of three sources
that are all alike each holds a third of the lives. A source or build therefore carries the answer
only if the answer moves further without it than without as many engines drawn at random from all
(a permutation test: if sources are alike, its engines are such a draw). What moves is the bound of
the hazard at one shape, ``m / sum(exit^shape - entry^shape)`` with m the bound of a Poisson mean
(`advice/equivalents.py`), in which hours since new cancel.

Of single engines one always moves it most, and no draw can tell more of it. An engine carries the
answer where it alone brings a large share of that sum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.advice.equivalents import poisson_allowance
from fleetstats.bands.in_use import is_few
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import CARRIED_BY_CHANCE, ONE_ENGINE_SHARE

DRAWS = 4000
"""Random sets of engines that are left out; the chance of 1 in 240 is met by about 17 of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """A fleet's lives, weighed at one shape.

    Parameters
    ----------
    spells : Spells
        All lives.
    shape : float
        As fitted, or the prior's middle while failures are few.
    confidence : float
        One-sided, of the bound.
    seed : int
        Of the random sets.
    """

    spells: Spells
    shape: float
    confidence: float
    seed: int

    @classmethod
    def of(cls, spells: Spells, fit: Fit | None, settings: Settings) -> Weighing:
        """Return the weighing by a study's settings."""
        few = fit is None or is_few(spells, fit)
        return cls(
            spells=spells,
            shape=settings.evidence.prior_shape_median if few or fit is None else fit.shape,
            confidence=0.5 * (1.0 + settings.study.confidence),
            seed=settings.study.seed,
        )

    def carries(self, column: str, name: str, *, tried: int = 1) -> bool:
        """Return whether one group or engine moves the answer more than chance explains.

        Parameters
        ----------
        column : {"source", "build", "unit"}
            What is left out.
        name : str
            Which of it.
        tried : int
            Groups that are left out in turn; they share the chance of error.
        """
        gone = getattr(self.spells, column) == name
        evidence = self.spells.weight * _worth(self.spells, self.shape)
        if column == "unit":
            return bool(evidence[gone].sum() > ONE_ENGINE_SHARE * evidence.sum())
        units, place = np.unique(self.spells.unit, return_inverse=True)
        mine = np.zeros(len(units), dtype=bool)
        mine[place[gone]] = True
        if mine.all():
            return True
        failed = self.spells.weight * self.spells.failed
        each = np.column_stack([np.bincount(place, weights=w) for w in (failed, evidence)])
        # a failure that no life counts is drawn like an engine, and brings no hours
        said = [x for x in self.spells.left_out for _ in range(x.count)]
        theirs = np.array([fold(getattr(x, column)) == fold(name) for x in said], dtype=bool)
        each = np.vstack([each, np.tile([1.0, 0.0], (len(said), 1))])
        mine = np.concatenate([mine, theirs])
        return self._chance_of(each, mine, f"carried by {column}") <= CARRIED_BY_CHANCE / tried

    def _chance_of(self, each: Array, mine: Array, name: str) -> float:
        """Return the two-sided chance that as many of `each` (n, 2) at random move it as far."""
        rng, taken = stream(self.seed, name, 0), int(mine.sum())
        left = [each[rng.permutation(len(mine))[taken:]].sum(axis=0) for _ in range(DRAWS)]
        drawn = _moves(np.array(left), self.confidence)
        own = _moves(each[~mine].sum(axis=0, keepdims=True), self.confidence)[0]
        # the set itself counts as one of the draws (exact for a permutation test)
        above = (1 + int((drawn >= own - 1e-12).sum())) / (1 + DRAWS)
        below = (1 + int((drawn <= own + 1e-12).sum())) / (1 + DRAWS)
        return 2.0 * min(above, below)


def _worth(spells: Spells, shape: float) -> Array:
    """Return (n,) what each life adds to the sum, hours in units of the oldest."""
    unit = max(spells.oldest_h, 1e-300)
    return np.asarray((spells.exit_lower / unit) ** shape - (spells.entry / unit) ** shape)


def _moves(left: Array, confidence: float) -> Array:
    """Return the logarithm of the hazard's bound for rows (n, 2) of failures and worth."""
    counts, place = np.unique(np.maximum(left[:, 0], 0.0), return_inverse=True)
    bound = np.log([poisson_allowance(float(r), confidence) for r in counts])
    with np.errstate(divide="ignore"):  # no worth at all is no bound
        return np.asarray(bound[place] - np.log(np.maximum(left[:, 1], 0.0)))
