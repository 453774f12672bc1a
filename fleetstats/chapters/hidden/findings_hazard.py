"""Removals on a finding as an axis: how much worse than the others would those engines have to be?

Taking such a removal as a fair censoring says that the engine would have gone on like the rest.
Suppose its hazard, had it run on, were `ratio` times that of the others. At age u a share w(u) of
the engines that would still be there has been removed, so the fleet's hazard is
h(u) [1 + (ratio - 1) w(u)], and its cumulative hazard by T grows by the factor

    1 + (ratio - 1) W,   W = mean of w(u) over the hazard up to T.

The bound of the cumulative hazard is multiplied by it (delta adjustment; Zhao et al. 2014; Jackson
et al. 2014). Removed engines are not thinned by their own failures, which is on the careful side.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.chapters.hidden.values import FindingCheck
from fleetstats.core.value import Array
from fleetstats.spells import Event, Spells
from fleetstats.survival.counting.incidence import estimate_outer_band
from fleetstats.survival.counting.product_limit import estimate_product_limit

POINTS = 400
MOST_RATIO = 100.0
"""A ratio beyond it is no doubt that anybody has: nothing then turns the claim on this axis."""


def removed_weight(spells: Spells, shapes: ArrayLike, hours: float) -> float:
    """Return W by `hours`, the greatest over `shapes`; 0 when nothing was removed on a finding.

    The share removed by each age is the product limit of those removals; past the oldest engine it
    stays at its last value.
    """
    found = spells.event == Event.FINDING
    if not bool(found.any()):
        return 0.0
    curve = estimate_product_limit(
        spells.replace(exit_lower=spells.exit_upper, event=found.astype(np.int8)), least_at_risk=1
    )
    x = (np.arange(POINTS) + 0.5) / POINTS

    def weight(shape: float) -> float:
        ages = np.minimum(hours * x ** (1.0 / shape), spells.oldest_h)
        return float(np.mean(1.0 - np.nan_to_num(curve.at(ages), nan=1.0)))

    return max(weight(float(b)) for b in np.atleast_1d(shapes))


def tipping_ratio(reliability_low: float, target: float, weight: float) -> float | None:
    """Return the least hazard ratio with which the target is no longer shown.

    Solves R_low ** (1 + (ratio - 1) W) = target. None if not shown at ratio 1, or W is 0.
    """
    if reliability_low < target or weight <= 0.0 or reliability_low <= 0.0:
        return None
    if reliability_low >= 1.0:
        return math.inf
    return 1.0 + (math.log(target) / math.log(reliability_low) - 1.0) / weight


def check_findings(
    spells: Spells, shapes: Array, *, hours: float, reliability_low: float | None, target: float
) -> FindingCheck | None:
    """Return the outer band at `hours` and the tipping hazard ratio; None without such removals.

    The ratio is None too where none up to `MOST_RATIO` turns the claim.
    """
    n = float(spells.weight[spells.event == Event.FINDING].sum())
    if n == 0:
        return None
    band = estimate_outer_band(spells)
    low, high = (float(x) for x in band.limits_at(hours))
    middle = float(band.at(hours))
    weight = removed_weight(spells, shapes, hours)
    ratio = None if reliability_low is None else tipping_ratio(reliability_low, target, weight)
    return FindingCheck(
        n_findings=n,
        at_h=hours,
        low=low,
        middle=middle,
        high=high,
        hazard_ratio=None if ratio is None or ratio > MOST_RATIO else ratio,
        removed_weight=weight,
    )
