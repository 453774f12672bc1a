"""What was said of fleets made up on the design of this one, truth by truth."""

from __future__ import annotations

from fleetstats.core.value import Value, value

LEVEL = 0.95
"""Confidence of the limits that say how far a share may be off for the number of fleets tried."""


@value
class StressedTruth(Value):
    """One truth: what the rule said of the fleets made up under it.

    Parameters
    ----------
    key, title, when : str
        The truth; `when` as a clause after "if".
    chance : float
        True chance of failure by the claimed hours for a new engine.
    fleets : int
        Fleets made up.
    supported, contradicted : int
        Of them, those whose claim was called so.
    signs : tuple of int
        Of those supported, in how many each sign of `Stress.signs` was seen.
    any_sign : int
        Of those supported, in how many at least one was.
    failures : float
        Mean number of failures recorded.
    """

    key: str
    title: str
    when: str
    chance: float
    fleets: int
    supported: int
    contradicted: int
    signs: tuple[int, ...]
    any_sign: int
    failures: float

    @property
    def share(self) -> float:
        """Return the share of fleets whose claim was supported."""
        return self.supported / self.fleets

    @property
    def share_contradicted(self) -> float:
        """Return the share of fleets whose claim was contradicted."""
        return self.contradicted / self.fleets

    @property
    def limits(self) -> tuple[float, float]:
        """Return limits of the share supported: those of Clopper & Pearson (1934)."""
        from scipy.special import betaincinv

        k, n, tail = self.supported, self.fleets, 0.5 * (1.0 - LEVEL)
        low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1.0, tail))
        high = 1.0 if k == n else float(betaincinv(k + 1.0, n - k, 1.0 - tail))
        return low, high


@value
class Stress(Value):
    """The stress certificate of one claim.

    Parameters
    ----------
    hours, accepted : float
        Claimed hours, and the chance of failure accepted there, which is the true one in `truths`.
    promised : float
        Share of wrong calls that the study's confidence allows.
    shape : float
        Shape of the Weibull that the truths stand beside; `shape_from` says where it is from.
    fleets, seed : int
        Fleets to a truth, and the seed of their draws.
    n_lives : int
        Lives of the design.
    truths : tuple of StressedTruth
        Those tried.
    better : StressedTruth
        The first truth with half the accepted chance: how often a claim that is true is supported.
    signs : tuple of str
        What was looked at besides, in fleets whose claim was supported.
    change : str
        How it was told which hours lie in the last two years.
    left_out : tuple of str
        Truths that this design has nothing for.
    sentence : str
        The worst of it.
    """

    hours: float
    accepted: float
    promised: float
    shape: float
    shape_from: str
    fleets: int
    seed: int
    n_lives: int
    truths: tuple[StressedTruth, ...]
    better: StressedTruth
    signs: tuple[str, ...]
    change: str
    left_out: tuple[str, ...]
    sentence: str

    @property
    def worst(self) -> StressedTruth:
        """Return the truth under which *supported* is wrong most often; the first of equals."""
        return max(self.truths, key=lambda t: t.supported)
