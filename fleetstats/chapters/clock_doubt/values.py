"""What a stated doubt of the clocks does to the claim, as a value."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class ClockDoubt(Value):
    """A claim with the clocks in doubt beside the same claim were each clock right.

    Parameters
    ----------
    hours, accepted : float
        Claimed hours, and the chance of failure accepted by then.
    doubt, together : float
        As stated: the log standard deviation, and the share that all clocks have in common.
    word, sure_word : str
        Verdict with the doubt and without; keys of `VERDICTS`.
    failure_high, sure_failure_high : float
        Upper bound of the chance of failing by then, with the doubt and without.
    life_low_h, sure_life_low_h : float or None
        Lower edge of the life at the study's reliability, with the doubt and without.
    sentence : str
    cautions : tuple of Caution
    """

    hours: float
    accepted: float
    doubt: float
    together: float
    word: str
    sure_word: str
    failure_high: float
    sure_failure_high: float
    life_low_h: float | None
    sure_life_low_h: float | None
    sentence: str = ""
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence
