"""What a stated doubt of the clocks does to the claim, as a value."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class DoubtOf(Value):
    """A doubt of clocks, of whose it is, and of how many engines.

    `whose` is a kind of meter, `OWN` for doubts stated for single engines or `OTHERS` for engines
    of which none is stated; `low` and `high` are the least and the greatest log sd among them.
    """

    whose: str
    low: float
    high: float
    engines: float


OWN = "own"
OTHERS = "others"


@value
class ClockDoubt(Value):
    """A claim with the clocks in doubt beside the same claim were each clock right.

    Parameters
    ----------
    hours, accepted : float
        Claimed hours, and the chance of failure accepted by then.
    doubt, together : float
        As stated: the log standard deviation, the greatest of any engine, and the share that all
        clocks have in common.
    word, sure_word : str
        Verdict with the doubt and without; keys of `VERDICTS`.
    failure_high, sure_failure_high : float
        Upper bound of the chance of failing by then, with the doubt and without.
    life_low_h, sure_life_low_h : float or None
        Lower edge of the life at the study's reliability, with the doubt and without.
    doubt_least : float
        The least of any engine.
    by_kind : tuple of DoubtOf
        Doubts by kind of meter, those of single engines and the rest; empty where none is stated
        but one for all.
    sentence : str
    cautions : tuple of Caution
    """

    hours: float
    accepted: float
    doubt_least: float
    doubt: float
    together: float
    word: str
    sure_word: str
    failure_high: float
    sure_failure_high: float
    life_low_h: float | None
    sure_life_low_h: float | None
    by_kind: tuple[DoubtOf, ...] = ()
    sentence: str = ""
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence
