"""The one scale on which weak points are set beside each other.

All are told as a share of the distance from the bound that is quoted to the accepted chance, on the
logarithm of the cumulative hazard ``H = -log(1 - p)``. On it the things that may be wrong add up
alike: if a share s of failures is reported, H is that over s; if lives are longer by a factor, log
life moves by log H over the shape; of counted failures H goes as their count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fleetstats.advice.advice import Verdict

SHORTEST = 1e-3
"""Least distance on the logarithm: a bound at its limit would make any move without end."""


def word_by_bounds(v: Verdict) -> str:
    """Return the word that the bounds alone give, whatever doubt refused it."""
    if not v.refused:
        return v.word
    low = v.reliability.low
    return "supported" if low is not None and low >= 1.0 - v.accepted_failure else "contradicted"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundScale:
    """The distance between the bound behind a verdict and the accepted chance.

    `bound` and `accepted` are chances of failure by the claimed hours; `known` is False where no
    bound may be quoted: where there is none, or past the evidence (there a lower one can still
    contradict). `word` is the one that the bounds alone give.
    """

    word: str
    bound: float
    accepted: float
    known: bool

    @classmethod
    def of(cls, v: Verdict) -> BoundScale:
        """Return the scale of a verdict: by its upper bound, or by the lower that contradicts."""
        word = word_by_bounds(v)
        against = word == "contradicted"
        edge = v.reliability.high if against else v.reliability.low
        bound = 1.0 if edge is None else 1.0 - edge
        known = (against or not v.extrapolated) and 0.0 < bound < 1.0
        return cls(word=word, bound=bound, accepted=v.accepted_failure, known=known)

    @property
    def within(self) -> bool:
        """Return whether the bound lies within the accepted chance."""
        return self.bound <= self.accepted

    @property
    def distance(self) -> float:
        """Return the distance on the logarithm of the cumulative hazard."""
        return max(abs(log_hazard(self.accepted) - log_hazard(self.bound)), SHORTEST)

    def moved_to(self, chance: float) -> float:
        """Return how far another bound lies towards the accepted chance, over the distance.

        Below 0 where it lies further off than the one quoted.
        """
        return self.moved_by(log_hazard(chance) - log_hazard(self.bound))

    def moved_by(self, log_factor: float) -> float:
        """Return how far a factor on the cumulative hazard moves the bound towards that chance."""
        return (log_factor if self.within else -log_factor) / self.distance

    def turned_at(self, chance: float) -> bool:
        """Return whether `chance` lies on the other side of the accepted chance than the bound."""
        return (chance > self.accepted) == self.within


def log_hazard(chance: float) -> float:
    """Return the logarithm of the cumulative hazard of a chance, held off 0 and 1."""
    p = min(max(chance, 1e-12), 1.0 - 1e-12)
    return math.log(-math.log1p(-p))


def with_factor(chance: float, factor: float) -> float:
    """Return the chance whose cumulative hazard is `factor` times that of another."""
    return -math.expm1(factor * math.log1p(-min(max(chance, 1e-12), 1.0 - 1e-12)))
