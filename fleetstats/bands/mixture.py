"""The mixture over shape: one posterior for zero, one, two … failures, and for many.

Given shape b, the expected number of failures in the exposure seen, ``rate * A(b)``, has a gamma
posterior in closed form. With a flat prior on it and r failures its upper limit at confidence C
is chi2(C; 2 r + 2) / 2, the bound for an assumed shape; its lower limit comes from chi2(1 - C; 2
r), as for a Poisson count (Garwood 1936). Shapes are then mixed: each weighs what its prior says
times its profile likelihood ``b^r exp(b sum log t) / A(b)^r``. With nothing failed the prior is
left, so the answer is proper and openly prior-driven; with many it is the data that are left.

The default prior is made to vanish: each failure seen takes from its weight, and the band of the
shape itself leaves it out. Besides, the weights fall as ``b^(-s)``, s the share of lives that
failed: where all fail this is the right Haar prior of a location and scale, exact in repeated
samples (Lawless 2003, appendix E); where few fail log shape is flat. Both were chosen by the
coverage study (`calibration`). A prior that the study states from comparable engines is used as
it stands.

Other sources: stating priors on shape and on something seen, not on the scale: Tian, Lewis-Beck,
Niemi & Meeker 2022; the closed form: Meeker, Escobar & Pascual 2021, chapters 10 and 14.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.bands.power import PowerSums
from fleetstats.bands.quantity import Quantity, log_hazard_factor
from fleetstats.bands.surface import Surface
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value
from fleetstats.spells.spells import Spells

SHAPES = 160
"""Shapes mixed; the trapezoid rule converges faster than any power of the step."""

PESSIMISTIC, OPTIMISTIC, MIDDLE = 1.0, 1e-9, 0.5
"""Failures added to those seen: for edges on the side of more failures, of fewer, and for
medians."""

WEAKENED = 2.0
"""How much each failure adds to the variance of the default prior, in units of itself."""

EXTRA = 0.25
"""Added besides, over (1 + r)^2, to pessimistic edges: mixing gives up a little of the bound of the
least favourable shape, which shows where none or one failed of the two or three expected."""

MAX_STEPS = 60
FALL = -35.0
"""Log weight, against the heaviest shape's, beneath which the grid ends."""

NEGLIGIBLE = 1e-9
"""Weight, against the heaviest shape's, beneath which a shape cannot move an edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapePrior(Value):
    """A lognormal prior on shape.

    Parameters
    ----------
    median, log_sd : float
        Median shape, and standard deviation of log shape.
    stated : bool
        Whether it comes from comparable engines: then it is used as it stands. Otherwise it is
        weakened by what the data say.
    source : str
        Where it comes from, in words.
    """

    median: float = 3.0
    log_sd: float = 0.7
    stated: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        if not (self.median > 0.0 and self.log_sd > 0.0):
            raise BandError(
                f"Shape prior with median {self.median} and log-sd {self.log_sd}.",
                "Both must be positive.",
            )

    def log_density(self, theta: Array, n_failed: Array) -> Array:
        """Return (F, G) log densities over log shape (G,), up to constants of each fleet."""
        z = (theta[None, :] - np.log(self.median)) / self.log_sd
        if self.stated:
            return np.asarray(-0.5 * z * z + 0.0 * n_failed[:, None])
        return np.asarray(-0.5 * z * z / (1.0 + WEAKENED * n_failed[:, None]))


def count_lives(spells: Spells) -> float:
    """Return the weighted number of lives; a spell cut in two at some age is still one."""
    names, unit = np.unique(spells.unit, return_inverse=True)
    unit = unit.ravel()
    total = float(spells.weight.sum())
    if len(names) == len(spells):
        return total
    order = np.lexsort((spells.entry, unit))
    u, e, t = unit[order], spells.entry[order], spells.exit_upper[order]
    goes_on = (u[1:] == u[:-1]) & (e[1:] == t[:-1]) & ~spells.failed[order][:-1]
    return total - float(spells.weight[order][:-1][goes_on].sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapeMixture(Value):
    """Posterior of F fleets: weights over shapes, and a gamma of the expected failures given each.

    Parameters
    ----------
    reference_h : float
        Age that the rate belongs to.
    theta : (G,) float
        Log shapes, evenly spaced.
    weight : (F, G) float
        Posterior weights; each row sums to 1.
    free : (F, G) float
        The same without a default prior, for the band of the shape itself.
    log_power : (F, G) float
        Log of what the rate is multiplied by to give the expected failures.
    counted : (F, G) or (F, 1) float
        Failures that the gamma counts, before any is added.
    power : (F,) float
        Share of lives failed, whose factor ``b^(-power)`` is in the weights; 0 for a stated prior.
    prior_sd : float
        Spread of log shape before the data.
    """

    reference_h: float
    theta: Array
    weight: Array
    free: Array
    log_power: Array
    counted: Array
    power: Array
    prior_sd: float

    @classmethod
    def of_sums(
        cls,
        sums: PowerSums,
        prior: ShapePrior,
        *,
        share_failed: Array,
        theta: Array | None = None,
    ) -> ShapeMixture:
        """Mix over shapes for F fleets with exact and right-censored spells.

        Parameters
        ----------
        sums : PowerSums
            Of F fleets.
        prior : ShapePrior
            On shape.
        share_failed : (F,) float
            Failures over lives.
        theta : (G,) float, optional
            Log shapes; chosen around the posteriors when left out.
        """
        power = 0.0 * share_failed if prior.stated else share_failed

        def likelihood(grid: Array) -> Array:
            return np.asarray(sums.profile(grid) - power[:, None] * grid)

        free, weight, grid = _weigh(likelihood, prior, sums.n_failed, (sums.low, sums.high), theta)
        return cls(
            reference_h=sums.reference_h,
            theta=grid,
            weight=weight,
            free=free,
            log_power=sums.log_power(grid),
            counted=sums.n_failed[:, None],
            power=power,
            prior_sd=prior.log_sd,
        )

    @classmethod
    def of_spells(cls, spells: Spells, prior: ShapePrior) -> ShapeMixture:
        """Mix over shapes for one fleet, with all kinds of failure.

        Where failures are only known to lie between checks, the section of the likelihood at each
        shape is taken as the gamma with the same peak and curvature, which counts a little less
        than one failure for each of them.
        """
        surface = Surface.of_spells(spells)
        share = np.array([spells.n_failed / max(count_lives(spells), 1e-300)])
        if not surface.has_gaps:
            return cls.of_sums(surface.sums, prior, share_failed=share)
        failed = np.array([spells.n_failed])
        power = 0.0 * share if prior.stated else share

        def section(grid: Array) -> tuple[Array, Array, Array]:
            value, u = surface.profile(grid)
            return value, u, -surface.slopes(grid, u)[1]

        def likelihood(grid: Array) -> Array:
            from scipy.special import gammaln

            value, _, r = section(grid)
            # area of the gamma against its peak
            area = r + gammaln(r) - r * np.log(r)
            return np.asarray((value + area)[None, :] - power[:, None] * grid)

        ends = (surface.sums.low, surface.sums.high)
        free, weight, grid = _weigh(likelihood, prior, failed, ends, None)
        _, u, r = section(grid)
        return cls(
            reference_h=surface.reference_h,
            theta=grid,
            weight=weight,
            free=free,
            log_power=(np.log(r) - u)[None, :],
            counted=r[None, :],
            power=power,
            prior_sd=prior.log_sd,
        )

    def bound(self, quantity: Quantity, probability: float, *, added: float) -> Array:
        """Return (F,) the value that the quantity stays below with a probability.

        Parameters
        ----------
        quantity : Quantity
            What is asked.
        probability : float
            Posterior probability of lying below the bound.
        added : float
            `PESSIMISTIC`, `OPTIMISTIC` or `MIDDLE`.
        """
        if quantity.kind == "shape":
            return np.exp(self._shape_bound(probability))
        if quantity.kind in ("life", "scale"):
            log_hazard = float(quantity.score(0.0, 0.0, self.reference_h))
            s = self._solve(probability, added, life=log_hazard)
        else:
            q = 1.0 - probability if quantity.kind == "reliability" else probability
            factor = quantity.log_factor(self.theta, self.reference_h)[None, :]
            s = self._solve(q, added, factor=factor)
        return np.asarray(quantity.of_score(s, self.reference_h))

    def bound_curve(
        self, kind: str, hours: Array, width_h: float, probability: float, *, added: float
    ) -> Array:
        """Return (m,) bounds of one fleet at ages (m,), as `bound` does for one."""
        q = 1.0 - probability if kind == "reliability" else probability
        factor = log_hazard_factor(
            kind, self.theta[None, :], hours[:, None], width_h, self.reference_h
        )
        s = self._solve(q, added, factor=factor)
        return Quantity(kind=kind, hours=1.0, width_h=1.0).of_score(s, self.reference_h)

    def draw(
        self, n: int, rng: np.random.Generator, *, added: float = MIDDLE
    ) -> tuple[Array, Array]:
        """Return `n` draws of shape and of scale in hours from the posterior of one fleet."""
        step = self.theta[1] - self.theta[0]
        cell = rng.choice(len(self.theta), size=n, p=self.weight[0])
        theta = self.theta[cell] + step * (rng.random(n) - 0.5)
        counted = np.broadcast_to(self.counted[0], self.theta.shape)[cell]
        with np.errstate(divide="ignore"):
            log_mean = np.log(rng.gamma(counted + added))
        shape = np.exp(theta)
        log_rate = log_mean - np.interp(theta, self.theta, self.log_power[0])
        with np.errstate(over="ignore"):
            return shape, self.reference_h * np.exp(-log_rate / shape)

    @property
    def prior_driven(self) -> Array:
        """Return (F,) spread of log shape over what the prior had: near 1, no data spoke."""
        mean = self.weight @ self.theta
        spread = np.sqrt(np.maximum(self.weight @ self.theta**2 - mean**2, 0.0))
        return np.asarray(spread / self.prior_sd)

    def _shape_bound(self, probability: float) -> Array:
        weight = self.free
        if probability > 0.5:
            # without the factor the upper edge errs outward too: with it, it holds a point less
            weight = weight * np.exp(self.power[:, None] * (self.theta - self.theta[-1]))
            weight = weight / weight.sum(axis=1, keepdims=True)
        # the weights stand for cells around the grid's points, so the sum runs between them
        step = self.theta[1] - self.theta[0]
        edges = np.concatenate([self.theta - 0.5 * step, [self.theta[-1] + 0.5 * step]])
        total = np.cumsum(weight, axis=1)
        return np.array([np.interp(probability, [0.0, *row], edges) for row in total])

    def _solve(
        self,
        probability: float,
        added: float,
        *,
        life: float | None = None,
        factor: Array | None = None,
    ) -> Array:
        """Return scores with a posterior probability below: Newton's method, kept in a bracket.

        `life` is the log hazard whose age is sought, `factor` (rows, G) the log factor of a hazard.
        """
        from scipy.special import gammainc, gammaincinv, gammaln

        a = self.counted + added
        if added == PESSIMISTIC:
            a = a + EXTRA / (1.0 + self.counted) ** 2
        shape = np.exp(self.theta)[None, :]
        with np.errstate(divide="ignore"):
            log_mean = np.log(gammaincinv(a, probability if life is None else 1.0 - probability))
        log_rate = np.maximum(log_mean, -700.0) - self.log_power
        own = (life - log_rate) / shape if life is not None else log_rate + factor
        # every shape's own answer brackets the mixture's
        heavy = self.weight > NEGLIGIBLE * self.weight.max(axis=1, keepdims=True)
        low = np.where(heavy, own, np.inf).min(axis=1)
        high = np.where(heavy, own, -np.inf).max(axis=1)
        s = np.where(heavy, self.weight * own, 0.0).sum(axis=1)
        log_gamma = gammaln(a)
        for _ in range(MAX_STEPS):
            u = life - shape * s[:, None] if life is not None else s[:, None] - factor
            log_mean = np.minimum(u + self.log_power, 700.0)
            mean = np.exp(log_mean)
            below = gammainc(a, mean)
            with np.errstate(under="ignore"):
                density = np.exp(a * log_mean - mean - log_gamma)
            if life is not None:
                below, density = 1.0 - below, density * shape
            value = (self.weight * below).sum(axis=1) - probability
            rise = (self.weight * density).sum(axis=1)
            low, high = np.where(value < 0, s, low), np.where(value < 0, high, s)
            with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
                new = s - value / rise
            new = np.where((new > low) & (new < high), new, 0.5 * (low + high))
            moved = np.abs(new - s)
            s = new
            if np.all(moved < 1e-11 * (1.0 + np.abs(s))):
                break
        return np.asarray(s)


def _normal(log_weight: Array) -> Array:
    with np.errstate(under="ignore"):
        w = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return np.asarray(w / w.sum(axis=1, keepdims=True))


def _weigh(
    likelihood: Callable[[Array], Array],
    prior: ShapePrior,
    n_failed: Array,
    ends: tuple[float, float],
    theta: Array | None,
) -> tuple[Array, Array, Array]:
    """Return weights without a default prior, weights, and log shapes evenly spaced.

    Where nothing failed, or the prior is stated, the two weights are the same.
    """
    keeps = np.array(prior.stated) | (n_failed <= 0.0)

    def both(grid: Array) -> tuple[Array, Array]:
        bare = likelihood(grid)
        full = bare + prior.log_density(grid, n_failed)
        return np.where(keeps[:, None], full, bare), full

    if theta is None:
        low, high = ends
        for _ in range(4):
            rough = np.linspace(low, high, 200)
            seen = np.zeros(200, dtype=bool)
            for value in both(rough):
                seen |= (value - value.max(axis=1, keepdims=True) > FALL).any(axis=0)
            at = np.flatnonzero(seen)
            low, high = rough[max(at[0] - 1, 0)], rough[min(at[-1] + 1, 199)]
        theta = np.linspace(low, high, SHAPES)
    free, full = both(theta)
    return _normal(free), _normal(full), theta
