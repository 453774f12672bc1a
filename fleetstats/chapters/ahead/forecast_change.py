"""A forecast at the rate of now: the draws of all years, each at a factor by which that changed."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.core.units import text_number, text_percent
from fleetstats.survival.change.evidence import Mixture

TOLD_FROM = 0.5
"""Chance of a change from which on a forecast says that it counts with one."""


def at_rate_now(draws: LifeCurves, now: Mixture | None) -> LifeCurves:
    """Return the draws, each hazard multiplied by a draw of its change; as given without one."""
    if now is None or not len(now.factor):
        return draws
    return draws.times(now.factor[np.arange(len(draws)) % len(now.factor)])


def now_words(now: Mixture | None) -> str:
    """Say what the forecast takes the rate of now to be; blank where a change is unlikely."""
    if now is None or 1.0 - now.none < TOLD_FROM:
        return ""
    return (
        f"The rate has changed within the records with a chance of {text_percent(1.0 - now.none)}, "
        f"so the forecast mixes change and no change by their evidence: on average "
        f"{text_number(now.mean, digits=2)} times the rate that all years show."
    )


def tell_now(sentences: tuple[str, ...], rate_now: str) -> tuple[str, ...]:
    """Return a forecast's sentences with that on the rate of now after the first."""
    return (*sentences[:1], rate_now, *sentences[1:]) if rate_now else sentences
