"""How much of a bound is the records', and how much a stated assumption on the shape.

A study may state a prior on the Weibull shape, or another range of shapes, where comparable engines
tell one. Neither may take the place of the records: what the bound would be under the default prior
and by the records alone is worked out beside it. The records alone are read by the profile
likelihood; with fewer than 5 failures, which leave the shape open, by the worst of the shapes left
open for the upper bound of failure, and by the most favourable of the default range for the lower.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.equivalents import life_equivalents, shape_grid
from fleetstats.advice.quoted import Quoter, reliability_low
from fleetstats.bands.method import shape_prior
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import Same, kept
from fleetstats.study.settings import EvidenceKeys, Settings

READ_THE_PRIOR = ("shape-mixture", "posterior")
"""Methods of the bands that a prior on the shape enters."""


def assumed_shape(settings: Settings) -> str:
    """Return what a study states of the shape in place of the defaults, in words; else blank."""
    keys, usual = settings.evidence, EvidenceKeys()
    said = []
    if shape_prior(keys).stated:
        said.append(
            f"prior of median {keys.prior_shape_median:g} and log standard deviation "
            f"{keys.prior_shape_log_sd:g}; source: {keys.prior_source}"
        )
    if shape_range(keys) != shape_range(usual):
        said.append("shapes from {:g} to {:g}".format(*shape_range(keys)))
    return "; ".join(said)


def shape_range(keys: EvidenceKeys) -> tuple[float, float]:
    """Return the least and the greatest shape of a study's range."""
    return min(keys.shapes), max(keys.shapes)


def without_assumption(settings: Settings, *, method: str = "") -> Settings:
    """Return the settings with the default prior and range of shapes, at another method if any."""
    usual, keys = EvidenceKeys(), settings.evidence
    plain = replace(
        keys,
        shapes=usual.shapes,
        prior_shape_median=usual.prior_shape_median,
        prior_shape_log_sd=usual.prior_shape_log_sd,
        prior_source=usual.prior_source,
        method=method or keys.method,
    )
    return replace(settings, evidence=plain)


def weigh_prior(lives: Quoter, hours: float) -> PriorWeight | None:
    """Return what the stated assumption on the shape does to the bounds of failure by `hours`.

    None where the study states none, or none that its bands read.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's settings.
    hours : float
        Claimed hours.
    """

    def work() -> PriorWeight | None:
        alone = beside_alone(lives, hours)
        if alone is None:
            return None
        usual = _asked_by(lives, "").interval(Quantity.reliability(hours))
        return replace(alone, high_default=1.0 - (usual.low or 0.0), low_default=_low(usual.high))

    key = ("prior weight", Same(lives.fit), Same(lives.settings), Same(lives.recorded), hours)
    return kept(lives.spells, key, work)


def beside_alone(lives: Quoter, hours: float) -> PriorWeight | None:
    """Return what `weigh_prior` does, with NaN for the bounds under the defaults.

    The judge needs no more, and asks often.
    """
    stated = assumed_shape(lives.settings)
    reads = lives.few or lives.asked.method in READ_THE_PRIOR
    changed = shape_range(lives.settings.evidence) != shape_range(EvidenceKeys())
    if not stated or not (reads or changed):
        return None
    what = Quantity.reliability(hours)
    now = lives.interval(what)
    alone: tuple[float | None, float | None]
    if lives.few:
        alone, how = _any_shape(lives, hours), "for the worst of the shapes that they leave open"
    else:
        r = _asked_by(lives, "profile").interval(what)
        alone, how = (r.low, r.high), "by their likelihood"
    return PriorWeight(
        stated=stated,
        hours=hours,
        high=1.0 - (now.low or 0.0),
        high_default=math.nan,
        high_alone=1.0 - (alone[0] or 0.0),
        low=_low(now.high),
        low_default=math.nan,
        low_alone=_low(alone[1]),
        alone=how,
    )


def _low(reliability_high: float | None) -> float:
    return 0.0 if reliability_high is None else 1.0 - reliability_high


def _asked_by(lives: Quoter, method: str) -> Quoter:
    """Return the fleet under the default prior and shapes, asked by another method if one is."""
    return Quoter.prepared(
        lives.spells,
        lives.fit,
        without_assumption(lives.settings, method=method),
        few=lives.few,
        recorded=lives.recorded,
        reach_from=lives.reach_from,
    )


def _any_shape(lives: Quoter, hours: float) -> tuple[float, float | None]:
    """Return bounds of the reliability that hang on no prior on the shape at all.

    The lower one is the edge that may be quoted under the defaults, whatever the mixture says; the
    upper one is for the most favourable shape of the default range, from the lower limit of a
    Poisson mean (Garwood 1936).
    """
    from scipy.special import gammaincinv

    settings = without_assumption(lives.settings)
    r, confidence = lives.spells.n_failed, 0.5 * (1.0 + settings.study.confidence)
    low = reliability_low(lives.spells, settings, hours, confidence, recorded=lives.recorded)
    n = life_equivalents(lives.spells, shape_grid(settings.evidence.shapes), hours)
    if r <= 0.0 or not bool((n > 0.0).all()):
        return low, None
    least = float(gammaincinv(r, 1.0 - confidence))
    return low, float(np.exp(-least / n).max())
