"""The truths under which a fleet is made up: one entry to a truth, so that one more is one line.

Each is scaled so that a new engine, of today and of any batch and source, meets the failure by the
claimed hours with one and the same chance, whatever else is true. How far each departs is our own
choice (no source); the words of each say it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Value, value
from fleetstats.survival.simulated import laws
from fleetstats.survival.simulated.laws import Law
from fleetstats.survival.simulated.recording import (
    OVERLOOKED,
    Recording,
    as_removals,
    as_told,
    rounded,
    unreported,
)

SPREAD_SD = 0.5
"""Spread of the log of the factor on the hazard that a batch or a source has as a whole."""

RISEN = 1.5
"""Factor on the hazard in the last two years."""

CLOCK_HIGH = 1.15
"""Factor on the hours of half the engines."""

NODES = 40
"""Points of the Gauss-Hermite rule by which chances are averaged over a normal log factor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeTruth:
    """One truth: a law of life, how hazards differ, and how what happened is written down.

    Parameters
    ----------
    key, title : str
        Its name, and its name in a table.
    when : str
        The same as a clause after "if".
    law : callable
        See `laws`.
    spread : str
        "", "build" or "source": what has a factor on the hazard as a whole.
    risen : float
        Factor on the hazard after each life's `change_h`.
    clock : float
        Factor on the hours of half the engines, as written.
    overlooked : float
        Chance that a check overlooks a fault that is there.
    recording : callable
        What becomes of the lives on their way into the records.
    checks_only : bool
        Whether it asks for failures found at checks.
    """

    key: str
    title: str
    when: str
    law: Law = laws.weibull
    spread: str = ""
    risen: float = 1.0
    clock: float = 1.0
    overlooked: float = 0.0
    recording: Recording = as_told
    checks_only: bool = False


TRUTHS = (
    MadeTruth(key="weibull", title="Weibull, as fitted", when="lives are Weibull"),
    MadeTruth(key="lognormal", title="lognormal", when="lives are lognormal", law=laws.lognormal),
    MadeTruth(key="log-logistic", title="log-logistic", when="lives are log-logistic",
          law=laws.log_logistic),
    MadeTruth(key="weak-share", title="a weak share",
          when="a few weak engines had half of the failures", law=laws.weak_share),
    MadeTruth(key="bathtub", title="bathtub",
          when="half of the risk came early and half with late wear", law=laws.bathtub),
    MadeTruth(key="batches", title="batches differ",
          when="the hazard differed from batch to batch (sd of its log 0.5)", spread="build"),
    MadeTruth(key="sources", title="sources differ",
          when="the hazard differed from source to source (sd of its log 0.5)", spread="source"),
    MadeTruth(key="risen", title="hazard up by half in two years",
          when="the hazard had risen by half in the last two years", risen=RISEN),
    MadeTruth(key="unreported", title="a fifth unreported",
          when="a fifth of the failures were in no record", recording=unreported),
    MadeTruth(key="removals", title="removals that were failures",
          when="a fifth of the failures were written down as removals for another reason",
          recording=as_removals),
    MadeTruth(key="clocks", title="clocks 15 % high",
          when="the clocks of half the engines read 15 % high", clock=CLOCK_HIGH),
    MadeTruth(key="heaped", title="hours rounded to 50",
          when="all hours were rounded to the nearest 50", recording=rounded),
    MadeTruth(key="overlooked", title="checks overlook three in ten",
          when="a check overlooked three faults in ten", overlooked=OVERLOOKED, checks_only=True),
)  # fmt: skip
"""Every truth, in the order of the table."""


@value
class Scaled(Value):
    """A truth's law scaled to a chance of failure by some hours.

    `hazard` is the cumulative hazard there of an engine whose factor is 1; `sd` the spread of the
    log of that factor.
    """

    hazard: float
    shape: float
    hours: float
    sd: float


def scale_to(truth: MadeTruth, chance: float, hours: float, shape: float) -> Scaled:
    """Scale a truth so that a new engine fails by `hours` with a chance, over all its factors."""
    goal = -math.log1p(-chance)
    sd = SPREAD_SD if truth.spread else 0.0
    if sd == 0.0:
        return Scaled(hazard=goal, shape=shape, hours=hours, sd=sd)
    low, high = goal * 1e-3, goal * 1e3
    for _ in range(200):
        middle = math.sqrt(low * high)
        over = mean_chance(middle, sd) > chance
        low, high = (low, middle) if over else (middle, high)
    return Scaled(hazard=math.sqrt(low * high), shape=shape, hours=hours, sd=sd)


def mean_chance(hazard: float, sd: float) -> float:
    """Return the chance of failure averaged over a normal log factor on the cumulative hazard."""
    x, w = np.polynomial.hermite_e.hermegauss(NODES)
    return float((w * -np.expm1(-hazard * np.exp(sd * x))).sum() / w.sum())
