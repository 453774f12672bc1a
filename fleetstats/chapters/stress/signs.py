"""Signs that a made-up fleet is not as the rule assumes: those that are cheap to look at."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.spells import Spells
from fleetstats.survival.families.goodness import DOUBT, check_goodness
from fleetstats.survival.fit import Fit
from fleetstats.survival.groups.groups import compare_groups

Sign = Callable[[Spells, Fit | None], bool]


def bad_fit(spells: Spells, fit: Fit | None) -> bool:
    """Return whether the test by age band contradicts the Weibull."""
    del spells
    if fit is None:
        return False
    p = check_goodness(fit).p_value
    return p is not None and p < DOUBT


def sources_differ(spells: Spells, fit: Fit | None) -> bool:
    """Return whether a test of one scale or one shape tells the sources apart."""
    del fit
    return _differ(spells, "source")


def builds_differ(spells: Spells, fit: Fit | None) -> bool:
    """Return whether a test of one scale or one shape tells the builds apart."""
    del fit
    return _differ(spells, "build")


def _differ(spells: Spells, by: str) -> bool:
    if len(np.unique(getattr(spells, by))) < 2:
        return False
    try:
        return any(t.p_value < DOUBT for t in compare_groups(spells, by).tests)
    except FitError:
        return False


SIGNS: tuple[tuple[str, Sign], ...] = (
    ("bad fit", bad_fit),
    ("sources differ", sources_differ),
    ("builds differ", builds_differ),
)
"""Each with its name in a table; tests at 5 %, those of groups of scale and of shape."""
