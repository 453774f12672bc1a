"""The looks at a study's records, each with what it may use of the chance of error."""

from __future__ import annotations

from fleetstats.advice.looks.look import ThisLook
from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution


@value
class LookLine(Value):
    """One look, made or planned.

    Parameters
    ----------
    number : int
    state : str
        ``"made"``, ``"this"`` or ``"planned"``.
    expected : float or None
        Failures expected by then if the claim were at its limit; None where the records do not
        tell.
    share : float or None
        Information over that guessed for the last look.
    spent, level : float or None
        One-sided chance of error used up by then, and level of the look; None of a look to come.
    """

    number: int
    state: str
    expected: float | None = None
    share: float | None = None
    spent: float | None = None
    level: float | None = None


@value
class PlannedLooks(Value):
    """The looks made and planned.

    Parameters
    ----------
    look : ThisLook
        This one.
    lines : tuple of LookLine
        Every look made, and those still planned.
    sentence : str
    cautions : tuple of Caution
    """

    look: ThisLook
    lines: tuple[LookLine, ...]
    sentence: str
    cautions: tuple[Caution, ...] = ()
