"""The chance of ever crossing a boundary at repeated looks at information that grows.

A signed root at information I behaves as ``S / sqrt(I)``, S a Brownian path at time I: its steps
between looks are independent. The density of S among paths that have crossed nowhere yet is carried
from look to look on a grid (Armitage, McPherson & Rowe 1969; Jennison & Turnbull 2000, chapter 19).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import BandError
from fleetstats.core.value import Array

POINTS = 401
"""Points of the grid; the boundaries of Lan & DeMets' examples come out to four digits."""

FARTHEST = 8.0
"""Deviates beyond which a path is not followed; the chance out there is below 1e-15."""

LEAST_STEP = 2e-3
"""Least growth of information between looks, as a share of it. A smaller one counts as this, which
can only make the boundary more careful."""


NO_INFORMATION = 1e-9
"""Failures expected that stand for none at all; nothing seen later may change what they stand for.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paths:
    """Paths that have crossed nowhere yet.

    Parameters
    ----------
    information : float
        At the last look.
    at, mass : (n,) float
        Points of S, and the chance that a path is near each.
    """

    information: float
    at: Array
    mass: Array

    @classmethod
    def start(cls) -> Paths:
        """Return the one path before any look."""
        return cls(information=0.0, at=np.zeros(1), mass=np.ones(1))

    def step(self, information: float) -> float:
        """Return the standard deviation of S's step to a look at `information`."""
        return float(np.sqrt(information - self.information))

    def beyond(self, information: float, deviate: float) -> float:
        """Return the chance to lie above `deviate` at a look, having crossed nowhere before."""
        from scipy.special import ndtr

        far = deviate * np.sqrt(information)
        return float(self.mass @ ndtr((self.at - far) / self.step(information)))

    def deviate_for(self, information: float, chance: float) -> float:
        """Return the deviate above which a path lies at a look with `chance`.

        Infinite for a chance of 0 or less, or for one that no deviate followed gives.
        """
        from scipy.optimize import brentq

        def over(z: float) -> float:
            return self.beyond(information, z) - chance

        if chance <= 0.0 or over(FARTHEST) >= 0.0:
            return float("inf")
        if over(-FARTHEST) <= 0.0:
            return -FARTHEST
        return float(brentq(over, -FARTHEST, FARTHEST, xtol=1e-9))

    def survive(
        self, information: float, deviate: float, *, low: float = -FARTHEST, points: int = POINTS
    ) -> Paths:
        """Return the paths that lie between `low` and `deviate` at a look."""
        root, sd = np.sqrt(information), self.step(information)
        at = np.linspace(low * root, min(deviate, FARTHEST) * root, points)
        away = (at[:, None] - self.at[None, :]) / sd
        density = np.exp(-0.5 * away**2) @ self.mass / (sd * np.sqrt(2.0 * np.pi))
        return Paths(information=information, at=at, mass=density * _simpson(at))


def _simpson(at: Array) -> Array:
    """Return (n,) weights of Simpson's rule on an odd number of even points."""
    weight = np.ones(len(at))
    weight[1:-1:2], weight[2:-1:2] = 4.0, 2.0
    return np.asarray(weight * (at[1] - at[0]) / 3.0)


def growing(information: Sequence[float]) -> Array:
    """Return (k,) information that grows at every look, by `LEAST_STEP` at least.

    Raises
    ------
    BandError
        If some information is negative or no number.
    """
    given = np.asarray(information, dtype=np.float64)
    if given.ndim != 1 or not bool((np.isfinite(given) & (given >= 0.0)).all()):
        raise BandError(
            f"Information at looks {list(information)}.",
            "Give the failures expected at each look, 0 or more, earliest first.",
        )
    out, last = np.empty(len(given)), 0.0
    for i, x in enumerate(given):
        last = out[i] = max(float(x), last * (1.0 + LEAST_STEP), NO_INFORMATION)
    return out


def chance_ever(
    information: Sequence[float], deviates: Sequence[float], *, both: bool = False
) -> float:
    """Return the chance that a signed root is ever above the deviate of its look.

    Parameters
    ----------
    information : (k,) float
        At each look, as failures expected.
    deviates : (k,) float
        Boundary at each look.
    both : bool
        Whether a root below minus the boundary has crossed too.

    Examples
    --------
    Five equal looks, each at two-sided 5 %, are wrong in 14.2 % (Armitage and others 1969):

    >>> from fleetstats.bands.looks.crossing import chance_ever
    >>> round(chance_ever([1, 2, 3, 4, 5], [1.96] * 5, both=True), 3)
    0.142
    """
    paths, out = Paths.start(), 0.0
    for at, z in zip(growing(information), deviates, strict=True):
        out += paths.beyond(float(at), z)
        if both:
            out += float(paths.mass.sum()) - paths.beyond(float(at), -z)
        paths = paths.survive(float(at), z, low=-z if both else -FARTHEST)
    return out
