"""The one tolerance between returns: how far apart two hours of one event may be told."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.study.pool_settings import MergeKeys

LEAST_REACH_H = 1.0
"""Readings no further apart than this may be the same, whatever the share."""


def reach_h(hours: ArrayLike, merge: MergeKeys) -> Any:
    """Return how far from `hours` another return may put the same event, in hours."""
    return np.maximum(merge.hours_alike * np.asarray(hours, dtype=np.float64), LEAST_REACH_H)


def alike_h(x: float, y: float, merge: MergeKeys) -> bool:
    """Return whether hours `x` and `y` may be those of one event: a failure, an overhaul, an end.

    Every comparison of hours between returns asks this, so that an overhaul is never held to be
    two where the failure that led to it is held to be one.
    """
    return abs(x - y) <= float(reach_h(max(x, y), merge))
