"""Results on what goes with longer or shorter life."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.regression.proportional import Proportional
from fleetstats.survival.regression.regression import Regression
from fleetstats.vocabulary.caution import Caution


@value
class Effects(Value):
    """Life factors and hazard ratios.

    `regression` is None, with `reason`, where nothing could be fitted. `hazards` is None where the
    regression is not fitted freely, or lifelines found no maximum; `no_hazards` says why.
    """

    regression: Regression | None
    hazards: Proportional | None
    reason: str
    no_hazards: str
    sentence: str
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence
