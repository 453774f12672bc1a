"""One failure, or a few: is it the start of something?

Three things can be said without fitting a curve to one point: what the failures do to the bound,
whether so many would surprise if the accepted chance were the truth, and whether they came early
or late beside the hours that were at risk. Failure ages are read against exposure: if the hazard
rises as hours^(shape - 1), a failure falls before age a with chance A(a) / A, A being the sum of
exit^shape - entry^shape over the hours seen.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.equivalents import life_equivalents
from fleetstats.advice.quoted import quoted_interval
from fleetstats.advice.success_run import poisson_at_most
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim.values import AgePattern, FirstFailures
from fleetstats.chapters.claim.words import ages_sentence
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.scenarios import censor
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE
from fleetstats.vocabulary.unknown import cause_known

PATTERNS = {"early faults": 0.5, "chance": 1.0, "wear-out": 3.0}
"""Kinds of failure told apart by age, each with the shape that stands for it."""


def _rank(spells: Spells, shape: float, age: float) -> float:
    """Return the share of the hazard at risk that lies before `age`."""
    top = spells.oldest_h
    e, t, a = spells.entry / top, spells.exit_upper / top, age / top
    before = np.maximum(np.minimum(t, a) ** shape - np.minimum(e, a) ** shape, 0.0)
    return float((spells.weight * before).sum() / (spells.weight * (t**shape - e**shape)).sum())


def _sum_at_most(x: float, n: int) -> float:
    """Return the chance that n uniforms sum to at most x (Irwin-Hall)."""
    from math import comb, factorial, floor

    total = sum((-1) ** k * comb(n, k) * (x - k) ** n for k in range(floor(x) + 1))
    return float(min(max(total / factorial(n), 0.0), 1.0))


def _pattern(spells: Spells, name: str, shape: float, ages: Array) -> AgePattern:
    ranks = sum(_rank(spells, shape, float(a)) for a in ages)
    early = _sum_at_most(ranks, len(ages))
    x = ages / spells.oldest_h

    def log_likelihood(b: float) -> float:
        n = float(life_equivalents(spells, b, spells.oldest_h)[0])
        return float(len(ages) * np.log(b / n) + (b - 1.0) * np.log(x).sum())

    return AgePattern(
        name=name,
        shape=shape,
        chance_so_early=early,
        chance_so_late=1.0 - early,
        support=float(np.exp(log_likelihood(shape) - log_likelihood(1.0))),
    )


def weigh_first_failures(
    spells: Spells, settings: Settings, *, hours: float, accepted: float
) -> FirstFailures | None:
    """Return what one to four failures say at the claimed hours; None for other numbers.

    Parameters
    ----------
    spells : Spells
        Lives at risk; a failure known to an interval counts at its middle.
    settings : Settings
        Confidence, shapes, prior.
    hours, accepted : float
        Claimed hours, and accepted chance of failure by them.
    """
    if not 1 <= spells.n_failed < FEW_FOR_SHAPE:
        return None
    failed = spells.failed
    middle = 0.5 * (spells.exit_lower + spells.exit_upper)
    count_of = np.maximum(spells.weight[failed].astype(int), 1)
    # age and cause are sorted as pairs, failures of one age in the order of the records
    order = np.argsort(np.repeat(middle[failed], count_of), kind="stable")
    ages = np.repeat(middle[failed], count_of)[order]
    told = (str(c) if cause_known(c) else "not stated" for c in spells.cause[failed])
    named = np.array(list(told), dtype=object)
    causes = tuple(np.repeat(named, count_of)[order].tolist())
    what = Quantity.reliability(hours)
    without = censor(spells, failed)
    high = 1.0 - (quoted_interval(spells, try_fit(spells), what, settings).low or 0.0)
    high_without = 1.0 - (quoted_interval(without, None, what, settings).low or 0.0)
    most = float(life_equivalents(spells, settings.evidence.shapes, hours).max())
    mean = -np.log1p(-accepted) * most
    chance = 1.0 - float(poisson_at_most(spells.n_failed - 1.0, mean))
    patterns = tuple(_pattern(spells, n, b, ages) for n, b in PATTERNS.items())
    return FirstFailures(
        sentence=ages_sentence(ages, causes, high, high_without, chance, patterns, hours, accepted),
        ages_h=ages,
        causes=causes,
        failure_high_with=high,
        failure_high_without=high_without,
        chance_if_accepted=chance,
        patterns=patterns,
    )
