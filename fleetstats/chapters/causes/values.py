"""Results by cause: what each ended, what overhaul renews, what a redesign would buy."""

from __future__ import annotations

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.bands.interval import Interval
from fleetstats.core.value import Value, value
from fleetstats.survival.counting.incidence import Incidence
from fleetstats.survival.groups.causes import (
    CauseFit,
)
from fleetstats.vocabulary.caution import Caution


@value
class CauseLine(Value):
    """One cause.

    `life` is its B-life if it were the only cause, lower edge as quoted elsewhere; `shape` is None
    below five failures. `in_question` says whether its failures are those of the study's question.
    `share_h` and `share` give the share of lives ended by this cause by those hours, with
    `share_error`, its standard error. `life` counts no failure of unknown cause; `life_shared`
    counts a share of them and `life_all` all, and both are None where every cause is known.
    """

    cause: str
    n_failed: float
    in_question: bool
    renewed: bool
    shape: Interval | None
    life: Interval
    share: float
    share_error: float
    share_h: float
    life_shared: Interval | None = None
    life_all: Interval | None = None


@value
class WithoutCause(Value):
    """The advice if one cause were designed out and all else stayed as it is."""

    cause: str
    figure: AdviceFigure
    change_h: float | None
    sentence: str


@value
class RenewedAdvice(Value):
    """Advice from the causes that overhaul renews, unknown ones treated in one way.

    `figure` is None where there is nothing to go by.
    """

    how: str
    reading: str
    n_unknown_counted: float
    figure: AdviceFigure | None


@value
class Causes(Value):
    """The chapter on causes.

    Parameters
    ----------
    lines : tuple of CauseLine
    incidence : Incidence
        Share of lives ended by each cause, by age.
    fits : tuple of CauseFit
    base : AdviceFigure
        Advice from all failures in question.
    renewed : tuple of RenewedAdvice
        Empty when overhaul renews every cause and all are known.
    without : tuple of WithoutCause
    n_unknown : float
    sentence : str
        What to take from the chapter.
    supported_h : float
        Hours at which the evidence ends; 0 where no age had enough at risk.
    """

    lines: tuple[CauseLine, ...]
    incidence: Incidence
    fits: tuple[CauseFit, ...]
    base: AdviceFigure
    renewed: tuple[RenewedAdvice, ...]
    without: tuple[WithoutCause, ...]
    n_unknown: float
    sentence: str
    supported_h: float
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(w.sentence for w in self.without)])

    __str__ = __repr__
