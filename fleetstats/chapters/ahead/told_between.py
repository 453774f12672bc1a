"""Running engines whose hours are told as lying between two, such as "1200-1300".

Nobody knows their present age, so that a chance ahead is taken at the edge where it is higher. A
life's own count stays that to the lower edge: no hour is counted that may not have been run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.outlook_curves import Chance
from fleetstats.chapters.ahead.outlook_values import Sign
from fleetstats.core.value import Array
from fleetstats.spells.running import RunningEngine


def upper_edges(engines: Sequence[RunningEngine]) -> Array:
    """Return (n,) the highest hours of each engine; its hours where they are one number or open."""
    return np.array([(e.age_high_h or e.age_h) if e.told_between else e.age_h for e in engines])


def at_worse_edge(
    engines: tuple[RunningEngine, ...], draws: LifeCurves, width_h: Array
) -> tuple[RunningEngine, ...]:
    """Return the engines, each at that edge of its hours where the chance of failing is higher.

    Parameters
    ----------
    engines : tuple of RunningEngine
        Engines in service.
    draws : LifeCurves
        Laws of life, to ages up to the upper edges and the hours ahead.
    width_h : (n,) float
        Hours ahead of each engine, equal engines told once.
    """
    if not any(e.told_between for e in engines):
        return engines
    low, high = np.array([e.age_h for e in engines]), upper_edges(engines)
    at = [draws.conditional_failure(age, width_h).mean(axis=0) for age in (low, high)]
    worse = np.where(at[1] > at[0], high, low)
    return tuple(replace(e, age_h=float(a)) for e, a in zip(engines, worse, strict=True))


def worse_of(a: Chance, b: Chance) -> Chance:
    """Return of two chances of one engine that with the higher upper edge; none is the highest."""
    return max(a, b, key=lambda c: (math.inf if c.high is None else c.high, c.estimate or 0.0))


def sign_of(e: RunningEngine, horizon_h: float) -> tuple[Sign, ...]:
    """Return what is said of an engine whose hours are not one number; nothing of others."""
    if e.age_high_h is None:
        return ()
    if math.isinf(e.age_high_h):
        said = f"its hours are told as at least {e.age_h:,.0f}: what it ran beyond is in no figure"
    elif e.told_between:
        said = (
            f"its hours are told as {e.age_h:,.0f} to {e.age_high_h:,.0f}: its chance is that at "
            "the edge where it is higher"
        )
        if e.age_h <= horizon_h < e.age_high_h:
            said += ", as far as the evidence reaches"
    else:
        return ()
    return (Sign(weight=1, text=said),)
