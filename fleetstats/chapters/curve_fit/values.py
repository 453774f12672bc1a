"""Whether the failures follow the fitted curve, as a value."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.families.curve_check import CurveCheck
from fleetstats.vocabulary.caution import Caution


@value
class CurveFit(Value):
    """The check of the fitted curve, what it means, and the caution where it fails.

    Parameters
    ----------
    check : CurveCheck
    sentence : str
        What both tests together say.
    cautions : tuple of Caution
    """

    check: CurveCheck
    sentence: str
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence
