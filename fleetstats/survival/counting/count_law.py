"""How many of many unlike engines fail: the Poisson-binomial law, and mixtures of it."""

from __future__ import annotations

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, PROBABILITY, SHARE, counted, gate, number_within
from fleetstats.core.value import Array, Value, frozen_array, value
from fleetstats.survival.counting.many_chances import law_by_transform, mean_law_by_transform

MOST_MEAN = 1e6
"""Mean of a law of counts up to which its probabilities are written out."""

_CELLS = 40_000_000
"""Array cells worked on at once, to bound memory."""

MOST_STEPS = 100_000_000
"""Engines times counts times fleets up to which the law is added up engine by engine; above, its
transform is quicker and differs by less than `many_chances.ERROR`."""


def poisson_binomial(p: Array, most: int | None = None) -> Array:
    """Law of the number of failures among engines with unlike chances.

    Parameters
    ----------
    p : (n,) or (B, n) float
        Chances of failing, one column to an engine; rows are separate fleets.
    most : int or None
        Highest count kept; None keeps all but a tail of 1e-12. What lies above goes to the last.

    Returns
    -------
    (k,) or (B, k) float
        Probabilities of 0, 1, 2 … failures; they sum to 1.

    References
    ----------
    Exact recursion over engines, ``P_j(k) = P_{j-1}(k) (1 - p_j) + P_{j-1}(k - 1) p_j``
    (Hong 2013, Computational Statistics & Data Analysis 59, from memory); from `MOST_STEPS` on by
    the transform (`many_chances`), which is as exact to `many_chances.ERROR`.
    """
    table, most = _checked(p, most)
    law = _by_transform if _is_long(table, most) else law_by_recursion
    out = law(table, most)
    return out[0] if np.ndim(p) == 1 else out


def _checked(p: Array, most: int | None) -> tuple[Array, int]:
    """Return the chances (B, n) that are above 0 in any fleet, and the highest count kept."""
    table = np.atleast_2d(np.asarray(p, dtype=np.float64))
    if table.size and (not np.all(table >= 0.0) or not np.all(table <= 1.0)):
        raise FitError("A chance of failing lies outside 0 to 1.", "Check the draws.")
    n = table.shape[1]
    if most is None:
        mean = table.sum(axis=1).max() if table.size else 0.0
        most = int(min(n, np.ceil(mean + 8.0 * np.sqrt(mean) + 14.0)))
    if table.size:
        table = table[:, table.max(axis=0) > 0.0]
    return table, most


def _is_long(table: Array, most: int) -> bool:
    return bool(table.size * min(most + 1, table.shape[1]) > MOST_STEPS)


def _by_transform(table: Array, most: int) -> Array:
    return law_by_transform(table, most, law_by_recursion)


def law_by_recursion(table: Array, most: int) -> Array:
    """Return the laws (B, most + 1) of fleets (B, n), added up engine by engine."""
    out = np.empty((len(table), most + 1))
    block = max(1, _CELLS // (16 * (most + 1)))
    for i in range(0, len(table), block):
        out[i : i + block] = _recursion(table[i : i + block], most)
    return out


def _recursion(table: Array, most: int) -> Array:
    # Counts run along the first axis, so that each step works on whole rows of memory.
    law = np.zeros((most + 1, len(table)))
    law[0] = 1.0
    chances = np.ascontiguousarray(table.T)
    for j, q in enumerate(chances):
        top = min(j + 1, most)
        moved = law[: top + 1] * q
        law[: top + 1] -= moved
        law[1 : top + 1] += moved[:top]
        law[top] += moved[top]
    return law.T


@value
class CountLaw(Value):
    """The forecast of a count: probabilities of 0, 1, 2 and so on.

    Parameters
    ----------
    probability : (k,) float
        They sum to 1.

    Examples
    --------
    >>> import fleetstats as fs
    >>> law = fs.CountLaw(probability=[0.5, 0.3, 0.2])
    >>> round(law.mean, 6), law.at_least(1), law.interval(0.90)
    (0.7, 0.5, (0, 2))
    """

    probability: Array

    def __post_init__(self) -> None:
        p = np.asarray(self.probability, dtype=np.float64)
        object.__setattr__(self, "probability", frozen_array(p / p.sum()))

    @classmethod
    def of_draws(cls, p: Array) -> CountLaw:
        """Average the law over parameter draws: rows of `p` (B, n) are draws.

        This carries the doubt of the parameters and of the count in one law (Hong, Meeker &
        McCalley 2009, section 5).
        """
        table, most = _checked(p, None)
        if _is_long(table, most):
            return cls(probability=mean_law_by_transform(table, most, law_by_recursion))
        return cls(probability=law_by_recursion(table, most).mean(axis=0))

    @property
    def mean(self) -> float:
        """Return the expected count."""
        return float(self.probability @ np.arange(len(self.probability)))

    @property
    def sd(self) -> float:
        """Return the standard deviation of the count."""
        k = np.arange(len(self.probability))
        return float(np.sqrt(self.probability @ (k - self.mean) ** 2))

    @property
    def none(self) -> float:
        """Return the chance of no failure at all."""
        return float(self.probability[0])

    @gate(q=SHARE)
    def quantile(self, q: float) -> int:
        """Return the least count k with ``P(N <= k) >= q``.

        Raises
        ------
        ArgumentError
            If `q` is not a number from 0 to 1.
        """
        total = np.cumsum(self.probability)
        return min(int(np.searchsorted(total, q - 1e-12)), len(total) - 1)

    @gate(k=counted())
    def at_least(self, k: int) -> float:
        """Return the chance of `k` or more."""
        return float(self.probability[k:].sum()) if k < len(self.probability) else 0.0

    @gate(level=LEVEL)
    def interval(self, level: float) -> tuple[int, int]:
        """Return the counts between which the outcome lies with at least the chance `level`.

        Each side leaves out at most ``(1 - level) / 2``.
        """
        tail = (1.0 - level) / 2.0
        return self.quantile(tail), self.quantile(1.0 - tail)

    @gate(false_alarm=PROBABILITY)
    def alert(self, false_alarm: float) -> int:
        """Return the least count whose chance of being reached is at most `false_alarm`."""
        k = 1
        while self.at_least(k) > false_alarm + 1e-12:
            k += 1
        return k

    def plus(self, other: CountLaw) -> CountLaw:
        """Return the law of the sum of two independent counts."""
        return CountLaw(probability=np.convolve(self.probability, other.probability))


@gate(mean=number_within(0.0, MOST_MEAN))
def poisson_law(mean: float) -> CountLaw:
    """Return the Poisson law of a mean, a tail of less than 1e-12 left out.

    Parameters
    ----------
    mean : float
        Events expected, from 0 to a million.

    Returns
    -------
    CountLaw
        Probabilities of 0, 1, 2 and so on.

    References
    ----------
    By definition, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> law = fs.poisson_law(3.0)
    >>> law.interval(0.90), round(law.at_least(6), 4)
    ((1, 6), 0.0839)
    """
    from scipy.special import gammaln

    k = np.arange(int(np.ceil(mean + 9.0 * np.sqrt(mean + 1.0) + 25.0)) + 1)
    log_mean = np.log(mean) if mean > 0.0 else -np.inf
    with np.errstate(invalid="ignore"):
        log_p = np.where(k == 0, 0.0, k * log_mean) - mean - gammaln(k + 1.0)
    return CountLaw(probability=np.exp(log_p))


@gate(shape=number_within(0.0, MOST_MEAN), exposure=number_within(0.0, MOST_MEAN))
def negative_binomial_law(shape: float, exposure: float) -> CountLaw:
    """Return the law of a Poisson count whose mean is `exposure` times a gamma of `shape`.

    ``P(k) = G(k + a) / (G(a) k!) * q**k * (1 - q)**a`` with ``q = exposure / (1 + exposure)``.

    Parameters
    ----------
    shape : float
        Of the gamma, from 0 to a million; 0 is no doubt that nothing happens.
    exposure : float
        What the gamma is multiplied by; as the shape.

    Returns
    -------
    CountLaw
        Probabilities of 0, 1, 2 and so on.

    References
    ----------
    By definition, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.negative_binomial_law(2.0, 1.5).mean
    3.0
    """
    from scipy.special import gammaln

    mean, q = shape * exposure, exposure / (1.0 + exposure)
    if mean == 0.0:
        return CountLaw(probability=np.ones(1))
    sd = np.sqrt(mean * (1.0 + exposure))
    k = np.arange(int(np.ceil(mean + 12.0 * sd + 40.0 * (1.0 + exposure))) + 1)
    log_p = gammaln(k + shape) - gammaln(shape) - gammaln(k + 1.0)
    return CountLaw(probability=np.exp(log_p + k * np.log(q) + shape * np.log1p(-q)))
