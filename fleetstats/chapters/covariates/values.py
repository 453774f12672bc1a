"""Results on what goes with longer or shorter life."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.regression.at_values import LawAt
from fleetstats.survival.regression.known_shape import ShapeEffect, ShapeLife
from fleetstats.survival.regression.proportional import Proportional
from fleetstats.survival.regression.regression import Regression
from fleetstats.survival.regression.stratified import Stratified
from fleetstats.vocabulary.caution import Caution


@value
class LevelHeld(Value):
    """What the records hold of one level of a column of words."""

    column: str
    level: str
    reference: bool
    lives: float
    hours: float
    failures: float
    oldest_h: float


@value
class ValueAt(Value):
    """The value of one covariate at which an answer is given.

    `how` is ``"asked"``, or what it stands at where nothing was asked: ``"commonest"``, ``"mean"``.
    """

    name: str
    value: str
    how: str


@value
class AnswerAt(Value):
    """Life, reliability and hazard at chosen values.

    Parameters
    ----------
    values : tuple of ValueAt
        Every covariate with the value that it has here.
    law : LawAt or None
        By the fitted effects; None where none could be fitted.
    shapes : tuple of ShapeLife
        Over the range of shapes, from the lives with just the values asked for, where nothing
        could be fitted.
    n, n_failed : float
        Lives with all the levels asked for, and failures among them.
    reached_h : float
        Greatest hours of any of them.
    level : float
        Two-sided.
    sentence : str
        The answer.
    """

    values: tuple[ValueAt, ...]
    law: LawAt | None
    shapes: tuple[ShapeLife, ...]
    n: float
    n_failed: float
    reached_h: float
    level: float
    sentence: str


@value
class Effects(Value):
    """Life factors and hazard ratios.

    `regression` is None, with `reason`, where nothing could be fitted. `hazards` is None where the
    regression is not fitted freely, or lifelines found no maximum; `no_hazards` says why. Where
    the study has columns of words, `within` holds hazard ratios within strata in place of
    `hazards`, `levels` what the records hold of each level, `adjusted` what the effects are
    adjusted for and `not_adjusted` why not for the rest; `over_shapes` the effects at each of a
    range of shapes where failures are too few to fit them, and `n_changed` the lives cut where a
    level changed. `at` and `at_sentence` answer at chosen values, where the study asks for them.
    """

    regression: Regression | None
    hazards: Proportional | None
    reason: str
    no_hazards: str
    sentence: str
    cautions: tuple[Caution, ...] = ()
    levels: tuple[LevelHeld, ...] = ()
    adjusted: tuple[str, ...] = ()
    not_adjusted: tuple[str, ...] = ()
    within: Stratified | None = None
    over_shapes: tuple[ShapeEffect, ...] = ()
    n_changed: int = 0
    at: AnswerAt | None = None
    at_sentence: str = ""

    def __repr__(self) -> str:
        return self.sentence
