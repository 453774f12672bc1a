"""The truth that is assumed when a plan's chance of a setback is worked out.

No bound says how likely a failure is; for that a true failure chance has to be assumed, and named.
"""

from __future__ import annotations

import math
from typing import ClassVar

from fleetstats.advice.equivalents import life_equivalents, poisson_allowance
from fleetstats.core.errors import SettingError
from fleetstats.core.units import text_percent
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE


@value
class Truth(Value):
    """An assumed truth.

    `kind` is ``"stated"`` (the chance of failure by `hours` is `failure`), ``"fit"`` (the fitted
    curve) or ``"median"`` (the failure chance that the records are as likely to over- as to
    undershoot, for each shape; with no failures, ln 2 over the equivalents).
    """

    kind: str
    words: str
    hours: float
    failure: float | None
    spells: Spells
    fit: Fit | None

    _not_in_dict: ClassVar[tuple[str, ...]] = ("spells", "fit")

    def hazard_by(self, shape: float) -> float:
        """Return the cumulative hazard by `hours` that is assumed at `shape`."""
        if self.kind == "stated" and self.failure is not None:
            return -math.log1p(-self.failure)
        n = float(life_equivalents(self.spells, shape, self.hours)[0])
        return poisson_allowance(self.spells.n_failed, 0.5) / n

    def expected(self, start: Array, stop: Array, weight: Array, shape: float) -> float:
        """Return the failures expected while engines run from `start` to `stop` hours."""
        if self.fit is not None and self.kind == "fit":
            rise = self.fit.cumulative_hazard(stop) - self.fit.cumulative_hazard(start)
        else:
            rise = self.hazard_by(shape) * (
                (stop / self.hours) ** shape - (start / self.hours) ** shape
            )
        return float((weight * rise).sum())


def assumed_truth(
    spells: Spells, fit: Fit | None, *, hours: float, true_failure: float | None = None
) -> Truth:
    """Return the truth to assume: the stated one, else the fit, else the median.

    Raises
    ------
    SettingError
        If the stated chance is not between 0 and 1.
    """
    if true_failure is not None:
        if not 0.0 < true_failure < 1.0:
            raise SettingError(
                f"Assumed true failure chance {true_failure:g}.", "It must lie between 0 and 1."
            )
        words = f"a true failure chance of {text_percent(true_failure)} by {hours:,.0f} h"
        kind = "stated"
    elif fit is not None and spells.n_failed >= FEW_FOR_SHAPE:
        kind, words = "fit", "the fitted curve taken as the truth"
    else:
        kind = "median"
        words = (
            "the failure chance that these records are as likely to overstate as to understate, "
            "at each shape"
        )
    return Truth(kind=kind, words=words, hours=hours, failure=true_failure, spells=spells, fit=fit)
