"""The mends that were applied, with their cautions."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.records.mends.mend import Mended
from fleetstats.vocabulary.caution import Caution


@value
class MendsApplied(Value):
    """What was decided about cells and rows of the record files.

    Parameters
    ----------
    mended : tuple of Mended
        Each with what it does to a failure.
    cautions : tuple of Caution
    """

    mended: tuple[Mended, ...]
    cautions: tuple[Caution, ...] = ()
