"""The mixture over shape: one posterior for zero, one, two … failures.

Given shape b, the expected number of failures in the exposure seen, ``rate * A(b)``, has a gamma
posterior in closed form; with a flat prior on it and r failures its upper limit at confidence C
is chi2(C; 2 r + 2) / 2, the bound for an assumed shape. Shapes are then mixed: each weighs what
its prior says times its profile likelihood ``b^r exp(b sum log t) / A(b)^r``. With nothing failed
that leaves the prior, so the answer is proper and openly prior-driven; with many it leaves the
data.

Sources: the closed form, Meeker, Escobar & Pascual 2021, chapters 10 and 14; stating priors on
shape and on something seen, not on the scale: Tian, Lewis-Beck, Niemi & Meeker 2022.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.power import PowerSums
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value

SHAPES = 120
"""Shapes mixed; the trapezoid rule converges faster than any power of the step."""

MAX_STEPS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapePrior(Value):
    """A prior on shape: lognormal, or flat in a power of shape where `log_sd` is infinite.

    Parameters
    ----------
    median, log_sd : float
        Of the lognormal.
    power : float
        A factor shape^power besides; -1 with infinite `log_sd` is the right Haar prior of a
        location and scale, exact in repeated samples that stop at a set number of failures.
    source : str
        Where it comes from, in words.
    """

    median: float = 2.0
    log_sd: float = 0.6
    power: float = 0.0
    source: str = ""

    def __post_init__(self) -> None:
        if not (self.median > 0.0 and self.log_sd > 0.0):
            raise BandError(
                f"Shape prior with median {self.median} and log-sd {self.log_sd}.",
                "Both must be positive.",
            )

    def log_density(self, theta: Array) -> Array:
        """Return the log density over log shape, up to a constant."""
        z = (theta - np.log(self.median)) / self.log_sd
        return np.asarray(self.power * theta - 0.5 * z * z)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapeMixture(Value):
    """Posterior of F fleets: weights over shapes, and a gamma of the expected failures given each.

    Parameters
    ----------
    reference_h : float
    theta : (G,) float
        Log shapes, evenly spaced.
    weight : (F, G) float
        Posterior weights; each row sums to 1.
    log_power : (F, G) float
        log A at each shape.
    gamma_shape : (F,) float
        Shape of the gamma of ``rate * A``.
    """

    reference_h: float
    theta: Array
    weight: Array
    log_power: Array
    gamma_shape: Array

    @classmethod
    def of_sums(
        cls, sums: PowerSums, prior: ShapePrior, *, added: float, theta: Array | None = None
    ) -> ShapeMixture:
        """Mix over shapes for fleets with exact and right-censored spells.

        Parameters
        ----------
        sums : PowerSums
            Of F fleets.
        prior : ShapePrior
            On shape.
        added : float
            Failures added to those seen in the gamma: 1 for the pessimistic edge (flat prior on the
            expected failures), 0 for the optimistic one (flat on its log), 1/2 between.
        theta : (G,) float, optional
            Log shapes; chosen around the posterior of a single fleet when left out.
        """
        grid = shape_grid(sums, prior) if theta is None else theta
        log_weight = sums.profile(grid) + prior.log_density(grid)[None, :]
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        return cls(
            reference_h=sums.reference_h,
            theta=grid,
            weight=weight / weight.sum(axis=1, keepdims=True),
            log_power=sums.log_power(grid),
            gamma_shape=sums.n_failed + added,
        )

    def bound(self, quantity: Quantity, probability: float) -> Array:
        """Return (F,) the value that the quantity stays below with a probability.

        Infinite or 0 where the posterior leaves it open.
        """
        if quantity.kind == "shape":
            return np.asarray(np.exp(self._shape_bound(probability)))
        q = 1.0 - probability if quantity.kind == "reliability" else probability
        score = self._solve(quantity, q)
        return np.asarray(quantity.of_score(score, self.reference_h))

    def _shape_bound(self, probability: float) -> Array:
        # the weights stand for cells around the grid's points, so the sum runs between them
        step = self.theta[1] - self.theta[0]
        edges = np.concatenate([self.theta - 0.5 * step, [self.theta[-1] + 0.5 * step]])
        total = np.concatenate(
            [np.zeros((len(self.weight), 1)), np.cumsum(self.weight, axis=1)], axis=1
        )
        return np.array([np.interp(probability, row, edges) for row in total])

    def _solve(self, quantity: Quantity, probability: float) -> Array:
        from scipy.special import gammainc, gammaincinv, gammaln

        life = quantity.kind in ("life", "scale")
        a = self.gamma_shape[:, None]
        with np.errstate(divide="ignore"):
            log_mean = np.log(gammaincinv(a, 1.0 - probability if life else probability))
        # every shape's own answer brackets the mixture's
        own = quantity.score(self.theta[None, :], log_mean - self.log_power, self.reference_h)
        heavy = self.weight > 1e-9 * self.weight.max(axis=1, keepdims=True)
        low = np.where(heavy, own, np.inf).min(axis=1)
        high = np.where(heavy, own, -np.inf).max(axis=1)
        slope = np.exp(self.theta)[None, :] if life else np.ones((1, len(self.theta)))
        s = (self.weight * own).sum(axis=1)
        done = ~np.isfinite(s)
        for _ in range(MAX_STEPS):
            u = quantity.log_rate(self.theta[None, :], s[:, None], self.reference_h)
            with np.errstate(over="ignore", under="ignore", invalid="ignore"):
                log_mean = np.minimum(u + self.log_power, 700.0)
                mean = np.exp(log_mean)
                below = gammainc(a, mean)
                density = np.exp(a * log_mean - mean - gammaln(a)) * slope
            value = (self.weight * (1.0 - below if life else below)).sum(axis=1) - probability
            rise = (self.weight * density).sum(axis=1)
            low, high = np.where(value < 0, s, low), np.where(value < 0, high, s)
            with np.errstate(divide="ignore", invalid="ignore"):
                new = s - value / rise
            inside = (new > low) & (new < high)
            new = np.where(inside, new, 0.5 * (low + high))
            moved = np.where(done, 0.0, np.abs(new - np.where(done, 0.0, s)))
            s = np.where(done, s, new)
            done = done | (moved < 1e-10) | (np.abs(value) < 1e-12)
            if done.all():
                break
        return np.asarray(s)

    @property
    def prior_share(self) -> Array:
        """Return (F,) how much of the mean log shape's spread is left: 1 means no data spoke."""
        mean = self.weight @ self.theta
        return np.asarray(np.sqrt(self.weight @ self.theta**2 - mean**2))


def shape_grid(sums: PowerSums, prior: ShapePrior, *, count: int = SHAPES) -> Array:
    """Return log shapes that cover all the weight of the posteriors of the fleets in `sums`."""
    rough = np.linspace(sums.low, sums.high, 400)
    log_weight = sums.profile(rough) + prior.log_density(rough)[None, :]
    log_weight = log_weight - log_weight.max(axis=1, keepdims=True)
    for _ in range(3):
        seen = np.flatnonzero((log_weight > -30.0).any(axis=0))
        low = rough[max(seen[0] - 1, 0)]
        high = rough[min(seen[-1] + 1, len(rough) - 1)]
        rough = np.linspace(low, high, 200)
        log_weight = sums.profile(rough) + prior.log_density(rough)[None, :]
        log_weight = log_weight - log_weight.max(axis=1, keepdims=True)
    return np.linspace(rough[0], rough[-1], count)
