"""The steps of a walk from one advice to another, and what became of the records between."""

from __future__ import annotations

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.core.value import Value, value


@value
class DataChange(Value):
    """What happened to the records between two studies."""

    engines_both: int
    engines_new: int
    engines_gone: int
    hours_added: float
    failures_added: float
    exposure_before_h: float
    exposure_after_h: float
    failures_before: float
    failures_after: float


@value
class WalkStep(Value):
    """One step: what changed, and the advice after it.

    `move_h` is the move of plan-from since the last step that had one; None where this step has
    none.
    """

    key: str
    what: str
    figure: AdviceFigure
    move_h: float | None
