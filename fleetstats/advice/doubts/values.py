"""Doubts about a verdict, as values."""

from __future__ import annotations

import math

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.limits import PRIOR_MOVED


@value
class Doubt(Value):
    """A reason for which a claim is called neither supported nor contradicted.

    `code` is ``"estimate-outside"``, ``"prior-moved"``, ``"assumed-hours"`` or ``"rate-rose"``;
    `because` says it as a clause.
    """

    code: str
    because: str


@value
class PriorWeight(Value):
    """What a stated assumption on the shape does to the bounds at the claimed hours.

    Parameters
    ----------
    stated : str
        The assumption, in words.
    hours : float
        Claimed hours; all chances are those of the failure by then.
    high, high_default, high_alone : float
        Upper bound as stated; under the default prior and range of shapes; and by the records
        alone.
    low, low_default, low_alone : float
        The lower bounds likewise; 0 where there is none.
    alone : str
        How the records alone are read: by their likelihood, or for the least favourable shape.
    """

    stated: str
    hours: float
    high: float
    high_default: float
    high_alone: float
    low: float
    low_default: float
    low_alone: float
    alone: str

    def moved(self, word: str) -> float:
        """Return by what share of itself the bound behind a word was moved towards that word.

        0 or less where the assumption does not help the word; infinite where the records alone give
        no such bound.
        """
        if word == "supported":
            return 1.0 - self.high / self.high_alone if self.high_alone > 0.0 else 0.0
        if self.low <= 0.0:
            return 0.0
        return self.low / self.low_alone - 1.0 if self.low_alone > 0.0 else math.inf

    def carries(self, word: str, accepted: float) -> bool:
        """Return whether the records alone would not give the word: it hangs on the assumption."""
        if word == "supported":
            return self.high <= accepted < self.high_alone
        return word == "contradicted" and self.low_alone <= accepted < self.low

    def makes(self, word: str, accepted: float) -> bool:
        """Return whether the assumption makes the word: it hangs on it, and by more than a share.

        The share is `PRIOR_MOVED`.
        """
        return self.carries(word, accepted) and self.moved(word) > PRIOR_MOVED
