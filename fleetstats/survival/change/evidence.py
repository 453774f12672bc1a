"""What a rate is now, if it may have changed: a mixture over change and none by their evidence.

Each subject may have changed at any month by any factor. The likelihood of its failures before and
after, given their number, averaged over months and factors, stands beside that of no change; the
prior chance of a change is shared over the subjects.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array, Floats, Matrix, Value, value
from fleetstats.survival.change.ratio import sums_of_months
from fleetstats.survival.change.shares import MonthShares

PRIOR_CHANGE = 0.5
"""Stated prior chance that the rate of some subject has changed within the records."""

FACTOR_SD = 1.2
"""Standard deviation of the log of a factor of change: nine in ten lie within a seventh and seven.
Stated, as no records tell it."""

FACTORS = np.exp(np.linspace(-3.0, 4.5, 76))
"""Factors averaged over. A mode that is new has no upper limit of its own; this is one of 90."""


@value
class ChangeEvidence(Value):
    """What speaks for a change of one subject, and what its rate would be now.

    Parameters
    ----------
    log_factor : float
        Log of the evidence for a change over that for none.
    chance : (m - 1, f) float
        Given a change, the chance of each month and factor; sums to 1.
    now : (m - 1, f) float
        Rate now over the rate that its failures show on average.
    weight : float
        Share of all failures that are this subject's.
    """

    log_factor: float
    chance: Matrix
    now: Matrix
    weight: float

    def factors(self, n: int, rng: np.random.Generator) -> Array:
        """Return (n,) draws of what all failures' rate is multiplied by, given this change."""
        flat = np.cumsum(self.chance.ravel())
        at = np.searchsorted(flat, rng.random(n) * flat[-1], side="right")
        now = self.now.ravel()[np.minimum(at, self.now.size - 1)]
        return np.asarray(1.0 + self.weight * (now - 1.0))


def weigh_change(shares: MonthShares, n_all: float) -> ChangeEvidence | None:
    """Return the evidence for a change of one subject; None where no month is to be tried.

    Parameters
    ----------
    shares : MonthShares
        Its failures by month.
    n_all : float
        Failures of all subjects.
    """
    if not len(shares) or shares.share.shape[1] < 2:
        return None
    seen, pooled = (x[:, None] for x in shares.after())
    f = FACTORS[None, :]
    # the odds of each failure's share are f times as high after the date
    told = seen * np.log(f) - sums_of_months(shares, FACTORS)
    spread = np.log(f) / FACTOR_SD
    prior = np.exp(-0.5 * spread**2)
    prior = np.broadcast_to(prior / (prior.sum() * told.shape[0]), told.shape)
    top = float(told.max())
    chance = prior * np.exp(told - top)
    total = float(chance.sum())
    return ChangeEvidence(
        log_factor=top + float(np.log(total)),
        chance=chance / total,
        now=f / (1.0 + pooled * (f - 1.0)),
        weight=len(shares) / n_all if n_all > 0 else 0.0,
    )


@value
class Mixture(Value):
    """Draws of what the rate is now over what all years show, with what they are made of.

    Parameters
    ----------
    factor : (n,) float
        One to a parameter draw; 1 where nothing changed.
    none : float
        Chance that nothing changed.
    likeliest : int
        Subject whose change has the best evidence.
    mean : float
    """

    factor: Floats
    none: float
    likeliest: int
    mean: float


def mix_changes(
    subjects: Sequence[ChangeEvidence], n: int, rng: np.random.Generator
) -> Mixture | None:
    """Return draws of the factor over all subjects; None without one.

    The first subject is all failures and has half of what the prior gives to change; the others,
    the causes, share the rest. With one alone it has it all.
    """
    if not subjects:
        return None
    k = len(subjects)
    share = [1.0] if k == 1 else [0.5, *([0.5 / (k - 1)] * (k - 1))]
    log_w = np.array([np.log(PRIOR_CHANGE * s) + x.log_factor for s, x in zip(
        share, subjects, strict=True)])  # fmt: skip
    every = np.concatenate([[np.log(1.0 - PRIOR_CHANGE)], log_w])
    weight = np.exp(every - every.max())
    weight /= weight.sum()
    pick = np.searchsorted(np.cumsum(weight), rng.random(n), side="right")
    factor = np.ones(n)
    for i, subject in enumerate(subjects):
        mine = np.flatnonzero(pick == i + 1)
        factor[mine] = subject.factors(len(mine), rng)
    return Mixture(
        factor=factor,
        none=float(weight[0]),
        likeliest=int(log_w.argmax()),
        mean=float(factor.mean()),
    )
