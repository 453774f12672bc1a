"""Results on sources: what each tells beside the others, and the answer without it."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.groups.equal_ages import EqualAges
from fleetstats.vocabulary.caution import Caution


@value
class DropOff(Value):
    """Engines of a source that are no longer read, though others of it are.

    Parameters
    ----------
    n : int
        Running engines last read over `hours.stale_days` before the source's latest reading, and
        engines lost to follow-up.
    n_ranked : int
        Those with dates by which their hours are set beside the others' on that day.
    older : float or None
        Share of those others that had fewer hours, on average; a half if hours play no part.
    p : float or None
        Chance of ranks so high, or higher, if hours play no part; None where none is ranked.
    """

    n: int
    n_ranked: int
    older: float | None
    p: float | None


@value
class SourceLine(Value):
    """One source beside all others.

    Parameters
    ----------
    source : str
    n, n_ended_failed : float
        Its lives; of these, those that ended in a failure of whatever cause.
    beside : EqualAges or None
        Failures in question told and expected; None with a single source.
    drop_off : DropOff or None
        None where its rows have no dates, or readings were carried on.
    p_fewer, p_all, p_drop : float or None
        Chances, if this source is like the others, of so few failures; of all lives failed (None
        unless all did); of the hours of engines that dropped off. Each held over all sources.
    odd : tuple of str
        What cannot well be chance: ``"silent"``, ``"fewer"``, ``"all-failed"``, ``"drops-off"``.
    """

    source: str
    n: float
    n_ended_failed: float
    beside: EqualAges | None
    drop_off: DropOff | None
    p_fewer: float | None
    p_all: float | None
    p_drop: float | None
    odd: tuple[str, ...] = ()


@value
class SideAnswer(Value):
    """The answer from some of the lives; `without` names what was left out, blank for nothing.

    `hours` are those to which the target reliability is shown, 0 for none; `failure_high` is the
    bound of failure by the claimed hours and `verdict` the word on the claim, none without one.
    """

    without: str
    n: float
    n_failed: float
    hours: float
    failure_high: float | None
    verdict: str


@value
class Sources(Value):
    """The chapter on sources.

    `sides` holds the answer from all lives, then without each source that is odd, then without all
    of these; empty where none is. `told` says each source, and each of these answers, in a line.
    """

    lines: tuple[SourceLine, ...]
    sides: tuple[SideAnswer, ...]
    claimed_h: float | None
    accepted_failure: float
    target: float
    level: float
    sentence: str
    told: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"  {line}" for line in self.told)])

    __str__ = __repr__
