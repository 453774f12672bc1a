"""Results on pooling: groups beside each other, regions, influence."""

from __future__ import annotations

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.groups.influence import InfluenceLine
from fleetstats.core.value import Value, value
from fleetstats.survival.counting.entry_check import (
    EntryCheck,
)
from fleetstats.survival.groups.between import Between
from fleetstats.survival.groups.groups import GroupComparison
from fleetstats.survival.groups.pooling import ScaleRatio
from fleetstats.survival.weibull.joint_region import JointRegion
from fleetstats.vocabulary.caution import Caution


@value
class GroupRegion(Value):
    """Joint likelihood regions of one group's own fit, innermost first."""

    name: str
    shape: float
    scale_h: float
    regions: tuple[JointRegion, ...]


@value
class PoolingBy(Value):
    """One label's groups.

    Parameters
    ----------
    by : str
        ``"source"`` or ``"build"``.
    verdict : str
        ``"inside"`` only if every group is inside the margin; ``"outside"`` if any is outside.
    ratios : tuple of ScaleRatio
        One for two groups; else each group against all others together.
    comparison : GroupComparison
        Each group's fit and the likelihood-ratio tests, which permit nothing by themselves.
    between : Between or None
        Spread between groups and a new one; `no_between` says why there is none.
    widening : float or None
        How much wider the B-life's band is when whole groups, not engines, vary at random.
    """

    by: str
    verdict: str
    ratios: tuple[ScaleRatio, ...]
    comparison: GroupComparison
    regions: tuple[GroupRegion, ...]
    between: Between | None
    no_between: str
    widening: float | None
    widening_note: str
    sentence: str


@value
class Pooled(Value):
    """The chapter on pooling.

    `base` is the advice from all records, made with the same number of resamples as those in
    `influence`. `settled` is the advice without the first hours after joining, `from_new` that from
    engines followed from new alone; both only where the check of entry does not put the question
    to rest, else None.
    """

    groups: tuple[PoolingBy, ...]
    base: AdviceFigure
    influence: tuple[InfluenceLine, ...]
    engines_compared: int
    entry: EntryCheck
    settled: AdviceFigure | None
    settled_h: float
    from_new: AdviceFigure | None
    sentence: str
    cautions: tuple[Caution, ...] = ()

    @property
    def verdict(self) -> str:
        """Return ``"not-enough-evidence"`` where no grouping can be told alike or apart."""
        told = [g for g in self.groups if g.verdict != "cannot-tell"]
        return "answered" if told else "not-enough-evidence"

    def __repr__(self) -> str:
        more = [g.sentence for g in self.groups if g.sentence not in self.sentence]
        return "\n".join([self.sentence, *more, self.entry.sentence])

    __str__ = __repr__
