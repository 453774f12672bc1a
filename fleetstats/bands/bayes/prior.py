"""What is held of the shape before the data, and how many lives the data are."""

from __future__ import annotations

import numpy as np

from fleetstats.core import arguments
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import change_of, goes_on_alike

WEAKENED = 2.0
"""How much each failure adds to the variance of the default prior, in units of itself."""


@value
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

    Raises
    ------
    ArgumentError
        If median or spread is no finite number above 0.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.ShapePrior(median=2.0, log_sd=0.5, stated=True, source="a like engine").median
    2.0
    """

    median: float = 3.0
    log_sd: float = 0.7
    stated: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        arguments.positive(self.median, "median")
        arguments.positive(self.log_sd, "log_sd")
        arguments.flag(self.stated, "stated")

    def log_density(self, theta: Array, n_failed: Array) -> Array:
        """Return (F, G) log densities over log shape (G,), up to constants of each fleet."""
        return log_prior(self, theta[None, :], n_failed[:, None])


def log_prior(prior: ShapePrior, theta: Array, n_failed: Array) -> Array:
    """Return log densities at log shapes after so many failures, of shapes that go together."""
    z = (theta - np.log(prior.median)) / prior.log_sd
    if prior.stated:
        return np.asarray(-0.5 * z * z + 0.0 * n_failed)
    return np.asarray(-0.5 * z * z / (1.0 + WEAKENED * n_failed))


def count_lives(spells: Spells) -> float:
    """Return the weighted number of lives; a spell cut in two at some age is still one."""
    return kept(spells, "lives counted", lambda: _count_lives(spells))


def _count_lives(spells: Spells) -> float:
    total = float(spells.weight.sum())
    change = change_of(spells)
    if change is not None and goes_on_alike(spells, change):
        return total + count_lives(change.before) - float(change.before.weight.sum())
    # a life goes on where another of its engine begins at the hours at which it ends
    late = spells.entry > 0.0
    goes_on = ~spells.failed & np.isin(spells.exit_upper, spells.entry[late])
    if not goes_on.any():
        return total
    rows = goes_on | (late & np.isin(spells.entry, spells.exit_upper[goes_on]))
    unit = np.unique(spells.unit[rows], return_inverse=True)[1].ravel()
    e, t, w = spells.entry[rows], spells.exit_upper[rows], spells.weight[rows]
    order = np.lexsort((e, unit))
    u, e, t = unit[order], e[order], t[order]
    goes_on = (u[1:] == u[:-1]) & (e[1:] == t[:-1]) & ~spells.failed[rows][order][:-1]
    return total - float(w[order][:-1][goes_on].sum())
