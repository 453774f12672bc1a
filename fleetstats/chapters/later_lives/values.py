"""Results on lives after an overhaul beside first lives."""

from __future__ import annotations

import math

from fleetstats.core.value import Value, value
from fleetstats.survival.groups.pooling import ScaleRatio


@value
class CarriedAge(Value):
    """The fit if a share of the hours before overhaul stayed with the engine as age.

    `life_h` is the B-life for the study's target, of an engine that is new; `log_likelihood` may be
    compared between rows, since each gives the probability of the same failures.
    """

    share: float
    shape: float
    life_h: float
    log_likelihood: float


@value
class LaterLives(Value):
    """First and later lives compared, and what follows if overhaul renews only in part.

    Lives of `carried` beyond `horizon_h`, where the evidence ends, are extrapolation.
    """

    ratio: ScaleRatio
    n_first: float
    n_later: float
    carried: tuple[CarriedAge, ...]
    target: float
    sentence: str
    horizon_h: float = math.inf
