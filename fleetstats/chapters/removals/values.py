"""Results on removals: each kind with its ages, its sources, and what it would turn."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.counting.ageing import Ageing
from fleetstats.survival.groups.equal_ages import EqualAges
from fleetstats.vocabulary.caution import Caution

EXPECTED = {
    "random": "at any age alike",
    "together": "at any age alike",
    "planned": "aged: hours or calendar were due",
    "lost": "as engines leave the list",
    "other-failure": "as that cause wears",
    "finding": "before a failure",
}
"""What ages are expected of a kind of removal, if it is what it is called."""


@value
class SourceOfKind(Value):
    """The source with the most of one kind beside the others at equal ages.

    `p_held` is the chance of so many, held over the sources and over all tests of the chapter.
    """

    source: str
    beside: EqualAges
    p_held: float


@value
class RemovalKind(Value):
    """Lives that ended in one way which was not counted as the failure in question.

    Parameters
    ----------
    kind : str
        Cause as written most often, or the ending where no cause is given.
    expect : str
        A key of `EXPECTED`.
    n, n_early : float
        Lives; of these those that ended before `BEFORE_CLAIM` of the claimed hours.
    youngest_h, median_h, oldest_h : float
        Their ages.
    ageing : Ageing or None
        Shape of their hazard, each source with a rate of its own.
    p_held : float or None
        Chance of ages so late if they came at any age alike, held over all tests of the chapter;
        None where no such test is made of the kind.
    source : SourceOfKind or None
        None where there is one source, or lives are too few.
    to_turn : int or None
        Least number of them that, failed at their own hours, leaves the claim no longer supported;
        None where no number does, or the claim is not supported as it stands.
    hours_all : float
        Hours to which the target reliability is shown if all were failures; 0 where none are.
    failure_high_all : float or None
        Upper bound of the chance of failure by the claimed hours if all were failures.
    """

    kind: str
    expect: str
    n: float
    n_early: float
    youngest_h: float
    median_h: float
    oldest_h: float
    ageing: Ageing | None
    p_held: float | None
    source: SourceOfKind | None
    to_turn: int | None
    hours_all: float
    failure_high_all: float | None

    @property
    def tested(self) -> bool:
        """Return whether its ages were tested against chance."""
        return self.p_held is not None


@value
class Removals(Value):
    """The chapter on removals.

    `shown` says whether the claim is supported as recorded; None without a claim. `hours` and
    `failure_high` are what `hours_all` and `failure_high_all` of a kind are set beside. `told`
    says each kind in a line.
    """

    kinds: tuple[RemovalKind, ...]
    claimed_h: float | None
    accepted_failure: float
    target: float
    shown: bool | None
    hours: float
    failure_high: float | None
    level: float
    sentence: str
    told: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"  {line}" for line in self.told)])

    __str__ = __repr__
