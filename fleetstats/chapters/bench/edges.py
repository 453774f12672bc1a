"""Edges of a bench's answer as intervals."""

from __future__ import annotations

import math

from fleetstats.bands.interval import Interval
from fleetstats.survival.stress.stress_bands import Edges


def scaled(e: Edges, k: float) -> Edges:
    """Return edges in another unit: each times `k`."""
    return Edges(
        estimate=e.estimate * k,
        low=None if e.low is None else e.low * k,
        high=None if e.high is None else e.high * k,
    )


def edges_interval(name: str, e: Edges, level: float, unit: str) -> Interval:
    """Return edges as an interval; `unit` is "h", or blank for a ratio."""
    none = "the profile does not close on this side"
    return Interval(
        name=name,
        estimate=e.estimate if math.isfinite(e.estimate) else None,
        low=e.low,
        high=e.high,
        level=level,
        method="profile",
        unit=unit,
        note_low="" if e.low is not None else none,
        note_high="" if e.high is not None else none,
    )
