"""Results on sources: how they compare, and the claim for one that is not among them."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.groups.between import Between
from fleetstats.survival.groups.pooling import ScaleRatio
from fleetstats.vocabulary.caution import Caution


@value
class SourceClaim(Value):
    """One claim, for the engines in the records and for those of a source like theirs.

    Parameters
    ----------
    hours, target : float
        Claimed hours, and the reliability accepted there.
    level : float
        Two-sided: each bound holds at ``(1 + level) / 2``.
    these_state, these_failure_high : str, float
        The verdict's word on the engines in the records, and at most how many fail by then.
    new_state, new_because : str
        The verdict's word on an engine of a source not yet seen, by the same rule and the same
        accepted chance, and what decided.
    new_failure, new_failure_low, new_failure_high : float or None
        Chance of failure of such an engine: of the source in the middle, and the limits over all
        such sources; never better than those of `these`. None where the spread cannot be told.
    extrapolated : bool
        The claimed hours lie beyond the evidence.
    """

    hours: float
    target: float
    level: float
    these_state: str
    these_failure_high: float
    new_state: str
    new_because: str
    new_failure: float | None
    new_failure_low: float | None
    new_failure_high: float | None
    extrapolated: bool


@value
class BetweenSources(Value):
    """The sources of the records beside each other.

    Parameters
    ----------
    verdict : str
        ``"inside"`` only if every source is inside the margin; ``"outside"`` if any is outside;
        else ``"cannot-tell"``.
    ratios : tuple of ScaleRatio
        One for two sources; else each source against all others together.
    between : Between or None
        Spread between sources and a new one; `no_between` says why there is none.
    claim : SourceClaim or None
        None where no hours are claimed.
    sentence : str
    """

    verdict: str
    ratios: tuple[ScaleRatio, ...]
    between: Between | None
    no_between: str
    claim: SourceClaim | None
    sentence: str
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence

    __str__ = __repr__
