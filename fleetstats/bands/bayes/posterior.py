"""The Bayesian route: stated priors on a life and on the shape, integrated upon a grid.

Parameters are log t_p, the log of the age by which a share p has failed, with p near what has
been seen, and log shape: nearly free of each other in the likelihood, and something of which an
engineer can have an opinion (Tian, Lewis-Beck, Niemi & Meeker 2022). A flat prior on log t_p is
the default; it needs at least one failure to be proper. No sampler: for each shape the section
over log t_p is summed by the trapezoid rule.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.profile import trim_edges
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.gate import LEVEL, an, gate
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.survival.lives import LIVES

SHAPES, RATES = 160, 240
FALL = 35.0
"""Fall in log posterior beyond which nothing is summed."""


@value
class LifePrior(Value):
    """A prior on the age by which a share `p` has failed.

    Parameters
    ----------
    p : float
        Share failed.
    median_h : float or None
        Median age in hours; None for a flat prior on its log.
    log_sd : float
        Standard deviation of its log.
    source : str
        Where it comes from, in words.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.LifePrior(p=0.10, median_h=1500, log_sd=0.5, source="a like engine").median_h
    1500
    """

    p: float
    median_h: float | None = None
    log_sd: float = 1.0
    source: str = ""


@value
class Posterior(Value):
    """Posterior of one fleet on a grid of log shapes, with the law of log rate at each.

    Parameters
    ----------
    reference_h : float
    theta : (G,) float
        Log shapes.
    weight : (G,) float
        Posterior weights of the shapes; they sum to 1.
    rate : (G, R) float
        Log rates, rising.
    below : (G, R) float
        Probability, at each shape, that the log rate lies below.
    """

    reference_h: float
    theta: Array
    weight: Array
    rate: Array
    below: Array

    def probability_below(self, quantity: Quantity, score: float) -> float:
        """Return the posterior probability that the quantity's score is below `score`."""
        if quantity.kind == "shape":
            step = self.theta[1] - self.theta[0]
            edges = np.concatenate([self.theta - 0.5 * step, [self.theta[-1] + 0.5 * step]])
            return float(np.interp(score, edges, np.concatenate([[0.0], np.cumsum(self.weight)])))
        u = quantity.log_rate(self.theta, score, self.reference_h)
        part = float(self.weight @ self._below_at(u))
        return 1.0 - part if quantity.kind in ("life", "scale") else part

    def _below_at(self, u: Array) -> Array:
        """Return (G,) probability, at each shape, that the log rate lies below `u` (G,).

        Each section has its rates evenly apart, so that the place of a rate among them is known
        without a search.
        """
        first, last = self.rate[:, 0], self.rate[:, -1]
        n = self.rate.shape[1] - 1
        place = np.clip((u - first) / (last - first), 0.0, 1.0) * n
        i = np.minimum(place.astype(np.intp), n - 1)
        rows = np.arange(len(u))
        left, right = self.below[rows, i], self.below[rows, i + 1]
        return np.asarray(left + (place - i) * (right - left))

    def bound(self, quantity: Quantity, probability: float) -> float:
        """Return the value that the quantity stays below with a probability."""
        from scipy.optimize import brentq

        q = 1.0 - probability if quantity.kind == "reliability" else probability
        ends = (
            quantity.score(self.theta[:, None], self.rate[:, [0, -1]], self.reference_h)
            if quantity.kind != "shape"
            else self.theta
        )
        low, high = float(np.min(ends)) - 1.0, float(np.max(ends)) + 1.0
        score = brentq(
            lambda s: self.probability_below(quantity, s) - q, low, high, xtol=1e-10, rtol=1e-12
        )
        return float(quantity.of_score(score, self.reference_h))


@gate(
    spells=LIVES,
    shape=an(ShapePrior, "Make one by fs.ShapePrior(median=…, log_sd=…, stated=True, source=…)."),
    life=an(LifePrior, "Make one by fs.LifePrior(p=…, median_h=…, log_sd=…, source=…).").or_none,
)
def fit_posterior(spells: Spells, shape: ShapePrior, life: LifePrior | None = None) -> Posterior:
    """Return the posterior of a Weibull on a grid.

    Parameters
    ----------
    spells : Spells
        The lives; all kinds of censoring.
    shape : ShapePrior
        Lognormal, used as it stands.
    life : LifePrior, optional
        Flat on the log of the age by which half the share seen to fail has failed, when left out.

    Returns
    -------
    Posterior
        For `posterior_interval`; no sampler, so that it is the same each time.

    Raises
    ------
    BandError
        If nothing failed and the prior on life is flat: the posterior would not be proper.

    References
    ----------
    Tian, Lewis-Beck, Niemi & Meeker (2022), on priors for a life and a shape; the grid is ours.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> posterior = fs.fit_posterior(lives, fs.ShapePrior(median=2.0))
    >>> print(fs.posterior_interval(posterior, fs.Quantity.shape(), level=0.90))
    shape: 2.26 (1.25 to 3.71, 90 %, posterior)
    """
    if spells.n_failed <= 0 and (life is None or life.median_h is None):
        raise BandError(
            "Nothing failed, and a flat prior on life leaves the posterior without a limit.",
            "State a prior on life, or use method 'shape-mixture'.",
        )
    own = None if life is None else (life.p, life.median_h, life.log_sd)
    key = ("posterior", shape.median, shape.log_sd, own)
    return kept(spells, key, lambda: _fit(spells, shape, life))


def _fit(spells: Spells, shape: ShapePrior, life: LifePrior | None) -> Posterior:
    surface = Surface.of_spells(spells)
    ref = surface.reference_h
    if life is None:
        share = spells.n_failed / float(spells.weight.sum())
        life = LifePrior(p=float(np.clip(0.5 * share, 1e-6, 0.5)))
    log_h = float(np.log(-np.log1p(-life.p)))

    def log_density(theta: Array, u: Array) -> Array:
        z = (theta - np.log(shape.median)) / shape.log_sd
        out = surface.log_likelihood(theta, u) - 0.5 * (z * z)[:, None]
        log_t = (log_h - u) * np.exp(-theta)[:, None]
        if life.median_h is not None:
            out = out - 0.5 * ((log_t - np.log(life.median_h / ref)) / life.log_sd) ** 2
        # d log t_p / d log rate is 1 / shape
        return np.asarray(out - theta[:, None])

    low, high = surface.sums.low, surface.sums.high
    for _ in range(3):
        theta = np.linspace(low, high, SHAPES)
        rate = _rates(surface, log_density, theta)
        value = log_density(theta, rate)
        peak = value.max(axis=1)
        seen = np.flatnonzero(peak > peak.max() - FALL)
        low, high = theta[max(seen[0] - 1, 0)], theta[min(seen[-1] + 1, SHAPES - 1)]
    mass = np.exp(value - value.max())
    step = rate[:, 1] - rate[:, 0]
    part = 0.5 * (mass[:, 1:] + mass[:, :-1]) * step[:, None]
    total = part.sum(axis=1)
    below = np.concatenate([np.zeros((SHAPES, 1)), np.cumsum(part, axis=1)], axis=1)
    return Posterior(
        reference_h=ref,
        theta=theta,
        weight=total / total.sum(),
        rate=rate,
        below=below / np.maximum(total, 1e-300)[:, None],
    )


def _rates(surface: Surface, log_density, theta: Array) -> Array:  # type: ignore[no-untyped-def]
    """Return (G, R) log rates that hold the mass of each section."""
    middle = np.log(max(surface.n_failed, 0.5)) - surface.log_power(theta)
    low, high = middle - 40.0, middle + 8.0
    for _ in range(4):
        grid = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, RATES)[None, :]
        value = log_density(theta, grid)
        seen = value > value.max(axis=1, keepdims=True) - FALL
        first = np.argmax(seen, axis=1)
        last = RATES - 1 - np.argmax(seen[:, ::-1], axis=1)
        rows = np.arange(len(theta))
        low = grid[rows, np.maximum(first - 1, 0)]
        high = grid[rows, np.minimum(last + 1, RATES - 1)]
    return np.asarray(grid)


@gate(
    posterior=an(Posterior, "Make one by fs.fit_posterior."),
    quantity=an(Quantity, "Make one as fs.Quantity.life(0.10)."),
    level=LEVEL,
)
def posterior_interval(posterior: Posterior, quantity: Quantity, *, level: float) -> Interval:
    """Return the equal-tailed interval of a quantity, with the median as its estimate.

    Parameters
    ----------
    posterior : Posterior
        As `fit_posterior` returns it.
    quantity : Quantity
        What is asked.
    level : float
        Two-sided posterior probability.

    Returns
    -------
    Interval
        With ``method`` "posterior".

    References
    ----------
    Meeker, Escobar & Pascual (2021), Statistical Methods for Reliability Data, chapter 10.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> posterior = fs.fit_posterior(lives, fs.ShapePrior(median=2.0))
    >>> print(fs.posterior_interval(posterior, fs.Quantity.life(0.10), level=0.90))
    B10 life: 442 h (209 h to 676 h, 90 %, posterior)
    """
    tail = 0.5 * (1.0 - level)
    low, middle, high = (posterior.bound(quantity, p) for p in (tail, 0.5, 1.0 - tail))
    return trim_edges(
        quantity, middle, low, high, posterior.reference_h, level=level, method="posterior"
    )
