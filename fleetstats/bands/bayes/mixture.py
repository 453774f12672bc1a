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

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior, count_lives
from fleetstats.bands.bayes.shape_weights import gamma_area, shapes_near, weigh_shapes
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity, log_hazard_factor
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

PESSIMISTIC, OPTIMISTIC, MIDDLE = 1.0, 1e-9, 0.5
"""Failures added to those seen: for edges on the side of more failures, of fewer, and for
medians."""

EXTRA = 0.25
"""Added besides, over (1 + r)^2, to pessimistic edges: mixing gives up a little of the bound of the
least favourable shape, which shows where none or one failed of the two or three expected."""

MAX_STEPS = 60
NEGLIGIBLE = 1e-9
"""Weight, against the heaviest shape's, beneath which a shape cannot move an edge."""


@value
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

        ends = (sums.low, sums.high)
        grid = shapes_near(likelihood, prior, sums.n_failed, ends) if theta is None else theta
        free, weight = weigh_shapes(likelihood(grid), prior, sums.n_failed, grid)
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
        than one failure for each of them. Made once for the same spells and prior.
        """
        key = ("shape-mixture", prior.median, prior.log_sd, prior.stated)
        return kept(spells, key, lambda: cls._of_spells(spells, prior))

    @classmethod
    def _of_spells(cls, spells: Spells, prior: ShapePrior) -> ShapeMixture:
        surface = Surface.of_spells(spells)
        share = np.array([spells.n_failed / max(count_lives(spells), 1e-300)])
        if not surface.has_gaps:
            return cls.of_sums(surface.sums, prior, share_failed=share)
        failed = np.array([spells.n_failed])
        power = 0.0 * share if prior.stated else share

        def section(grid: Array) -> tuple[Array, Array, Array]:
            value, u, r = surface.sections(grid)
            return (value + gamma_area(r))[None, :] - power[:, None] * grid, u, r

        ends = (surface.sums.low, surface.sums.high)
        grid = shapes_near(lambda x: section(x)[0], prior, failed, ends)
        likelihood, u, r = section(grid)
        free, weight = weigh_shapes(likelihood, prior, failed, grid)
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

    def take(self, fleets: slice) -> ShapeMixture:
        """Return the posteriors of some of the fleets."""
        return ShapeMixture(
            reference_h=self.reference_h,
            theta=self.theta,
            weight=self.weight[fleets],
            free=self.free[fleets],
            log_power=self.log_power[fleets],
            counted=self.counted[fleets],
            power=self.power[fleets],
            prior_sd=self.prior_sd,
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

    def bound_of_one(self, quantity: Quantity, probability: float, *, added: float) -> float:
        """Return `bound` of a single fleet, sought once: every claim and level asks it again."""
        q = quantity
        key = ("bound", q.kind, q.p, q.hours, q.width_h, probability, added)
        return kept(self, key, lambda: float(self.bound(quantity, probability, added=added)[0]))

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

    def below_curve(
        self, kind: str, hours: Array, width_h: float, value: Array, *, added: float
    ) -> Array:
        """Return (m,) posterior probabilities that chances at ages (m,) lie below values (m,)."""
        from scipy.special import gammainc

        factor = log_hazard_factor(
            kind, self.theta[None, :], hours[:, None], width_h, self.reference_h
        )
        score = Quantity(kind=kind, hours=1.0, width_h=1.0).score_of(value, self.reference_h)
        mean = np.exp(np.minimum(score[:, None] - factor + self.log_power, 700.0))
        part = (self.weight * gammainc(self._count(added), mean)).sum(axis=1)
        return np.asarray(1.0 - part if kind == "reliability" else part)

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

    def below(self, quantity: Quantity, value: Array, *, added: float) -> Array:
        """Return (F,) posterior probabilities that the quantity lies below `value` (F,).

        For the shape `added` only tells the edges apart, as in `bound`.
        """
        from scipy.special import gammainc

        if quantity.kind == "shape":
            edges, total = self._shape_sums(1.0 if added == PESSIMISTIC else -1.0)
            at = np.log(value)
            return np.array([np.interp(x, edges, y) for x, y in zip(at, total, strict=True)])
        score = quantity.score_of(value, self.reference_h)
        u = quantity.log_rate(self.theta[None, :], score[:, None], self.reference_h)
        mean = np.exp(np.minimum(u + self.log_power, 700.0))
        part = (self.weight * gammainc(self._count(added), mean)).sum(axis=1)
        return np.asarray(1.0 - part if quantity.falls_with_rate else part)

    def _count(self, added: float) -> Array:
        a = self.counted + added
        if added == PESSIMISTIC:
            a = a + EXTRA / (1.0 + self.counted) ** 2
        return np.asarray(a)

    def _shape_sums(self, side: float) -> tuple[Array, Array]:
        """Return edges of cells and summed weights, for the upper (1) or lower (-1) edge."""
        # taking the factor b^(-s) off above and once more below makes each edge err outward: with
        # the factor alone both hold up to a point less than they promise
        tilt = side * self.power[:, None] * (self.theta - side * np.abs(self.theta).max())
        weight = self.free * np.exp(tilt)
        weight = weight / weight.sum(axis=1, keepdims=True)
        # the weights stand for cells around the grid's points, so the sum runs between them
        step = self.theta[1] - self.theta[0]
        edges = np.concatenate([self.theta - 0.5 * step, [self.theta[-1] + 0.5 * step]])
        total = np.concatenate([np.zeros((len(weight), 1)), np.cumsum(weight, axis=1)], axis=1)
        return edges, total

    def _shape_bound(self, probability: float) -> Array:
        edges, total = self._shape_sums(float(np.sign(probability - 0.5)))
        return np.array([np.interp(probability, row, edges) for row in total])

    def _solve(
        self,
        probability: float,
        added: float,
        *,
        life: float | None = None,
        factor: Array | None = None,
    ) -> Array:
        """Return scores with a posterior probability below: Halley's method, kept in a bracket.

        `life` is the log hazard whose age is sought, `factor` (rows, G) the log factor of a hazard.
        """
        from scipy.special import gammainc, gammaincinv, gammaln

        a = self._count(added)
        shape = np.exp(self.theta)[None, :]
        with np.errstate(divide="ignore"):
            log_mean = np.log(gammaincinv(a, probability if life is None else 1.0 - probability))
        log_rate = np.maximum(log_mean, -700.0) - self.log_power
        own = (life - log_rate) / shape if life is not None else log_rate + factor
        rows = len(own)
        weight = np.broadcast_to(self.weight, (rows, len(self.theta)))
        # every shape's own answer brackets the mixture's
        heavy = weight > NEGLIGIBLE * weight.max(axis=1, keepdims=True)
        low = np.where(heavy, own, np.inf).min(axis=1)
        high = np.where(heavy, own, -np.inf).max(axis=1)
        s = np.where(heavy, weight * own, 0.0).sum(axis=1)
        counted = np.broadcast_to(a, (rows, a.shape[1]))
        ways = np.broadcast_to(gammaln(a), counted.shape)
        # a gamma that counts nothing has all its mass at a rate of 0: there is no edge to seek
        left = np.flatnonzero(counted.max(axis=1) > 1e-6)
        for _ in range(MAX_STEPS):
            c, w = counted[left], weight[left]
            power = self.log_power[left] if len(self.log_power) == rows else self.log_power
            if life is not None:
                u = life - shape * s[left, None]
            else:
                assert factor is not None
                u = s[left, None] - (factor[left] if len(factor) == rows else factor)
            log_mean = np.minimum(u + power, 700.0)
            mean = np.exp(log_mean)
            below = gammainc(c, mean)
            with np.errstate(under="ignore"):
                density = np.exp(c * log_mean - mean - ways[left])
            bend = density * (c - mean)
            if life is not None:
                below, density, bend = 1.0 - below, density * shape, -bend * shape**2
            value = (w * below).sum(axis=1) - probability
            at = s[left]
            low[left] = np.where(value < 0, at, low[left])
            high[left] = np.where(value < 0, high[left], at)
            step = _halley(value, (w * density).sum(axis=1), (w * bend).sum(axis=1))
            with np.errstate(invalid="ignore"):
                # at the root itself a step's last digit may point out of the bracket
                near = np.abs(step) <= 1e-10 * (1.0 + np.abs(at))
            inside = near | ((at - step > low[left]) & (at - step < high[left]))
            new = np.where(inside, at - step, 0.5 * (low[left] + high[left]))
            s[left] = new
            left = left[~near & (new != at)]
            if not len(left):
                break
        return np.asarray(s)


def _halley(value: Array, rise: Array, turn: Array) -> Array:
    """Return Halley's step to a root, its correction held within what it is good for."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        step = value / rise
        return np.asarray(step / np.clip(1.0 - 0.5 * step * turn / rise, 0.5, 2.0))
