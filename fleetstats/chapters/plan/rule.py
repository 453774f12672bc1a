"""What a plan lacks by the rule by which claims are judged, which may ask more than any one shape.

The plan's table stands on known shapes. A claim is quoted by the worse of these and the bound under
the prior on the shape while failures are few, and by the band in use from then on
(`advice/quoted.py`). A plan that met the table alone could still leave the claim not shown.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.judge import is_supported
from fleetstats.advice.quoted import Quoter, is_few
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

MOST_ADDED = 4.0
"""Greatest hours added that are tried, as a multiple of the hours asked for."""

STEPS = 14


def hours_by_rule(
    spells: Spells,
    running: Array,
    fit: Fit | None,
    settings: Settings,
    *,
    hours: float,
    target: float,
) -> float | None:
    """Return the hours that each running engine must add, none failing, for the claim to be shown.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    running : (n,) bool
        Spells whose engine can run on.
    fit : Fit or None
        Weibull fit of the spells, where there is one.
    settings : Settings
        Confidence, prior, shapes and method.
    hours, target : float
        Age, and reliability to be shown there.

    Returns
    -------
    float or None
        0 if it is shown already; None where `MOST_ADDED` does not show it, no engine runs, or the
        bands come from resampling, which would be drawn anew at each trial.
    """
    if not is_few(spells, fit) and settings.evidence.method not in ("auto", "shape-mixture"):
        return None

    def shown(added: float) -> bool:
        more = np.where(running, added, 0.0)
        run_on = spells.replace(
            exit_lower=spells.exit_lower + more, exit_upper=spells.exit_upper + more
        )
        return is_supported(Quoter.of(run_on, fit, settings), hours, target)

    if shown(0.0):
        return 0.0
    low, high = 0.0, MOST_ADDED * hours
    if not running.any() or not shown(high):
        return None
    for _ in range(STEPS):
        mid = 0.5 * (low + high)
        low, high = (low, mid) if shown(mid) else (mid, high)
    return high
