"""The likelihood-ratio region of a Weibull, and the extremes of anything upon its edge.

At level C the region holds all (shape, rate) whose log-likelihood is within chi2(C; 1) / 2 of the
maximum. For each shape it is an interval of rates, in closed form but for failures between
checks. A quantity that is monotone in the rate given shape takes its extremes on the edge, and
these are its profile-likelihood limits (Lawless 2003, section 4.1; Meeker, Escobar & Pascual
2021, chapter 8). One region serves every quantity and every age.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

import numpy as np

from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import Quantity, log_hazard_factor
from fleetstats.core.errors import NoMaximum
from fleetstats.core.value import Array, Value, value

EDGE_POINTS = 161
"""Shapes at which the edge is first looked at; the extreme is then refined between them."""

FAN, FANS = 11, 8
"""Angles a pass and passes of the refinement: the bracket shrinks to 1e-7, the value at a flat
extreme to 1e-14."""

FANS_OF_CURVE = 4
"""Passes for each age of a curve, whose values are then right to 1e-8."""


@value
class Maximum(Value):
    """Where a surface is greatest: log shape, log rate, log-likelihood."""

    log_shape: float
    log_rate: float
    log_likelihood: float


def find_maximum(surface: Surface) -> Maximum:
    """Return the maximum of a surface.

    The profile over shape has one maximum at most, so a grid zoomed in on cannot miss it.

    Raises
    ------
    NoMaximum
        If there is none between the shapes that bands look at.
    """
    low, high = surface.sums.low, surface.sums.high
    ends = (low, high)
    for step in range(7):
        theta = np.linspace(low, high, 129 if step == 0 else 33)
        values, _ = surface.profile(theta)
        k = int(np.argmax(values))
        low, high = theta[max(k - 1, 0)], theta[min(k + 1, len(theta) - 1)]
    best = 0.5 * (low + high)
    # a parabola through three points gives the digits that a flat top hides from comparison
    h = 1e-3
    three = best + np.array([-h, 0.0, h])
    f = surface.profile(three)[0]
    bend = f[0] - 2 * f[1] + f[2]
    if bend < 0:
        best += float(np.clip(0.5 * h * (f[0] - f[2]) / bend, -h, h))
    if best - ends[0] < 1e-3 or ends[1] - best < 1e-3:
        raise NoMaximum(
            "The likelihood keeps rising as the shape grows, so no shape fits best."
            if ends[1] - best < 1e-3
            else "The likelihood keeps rising as the shape falls to 0, so no shape fits best.",
            "Use the bound for an assumed shape, or the mixture over shapes.",
        )
    value, u = surface.profile(np.array([best]))
    return Maximum(log_shape=best, log_rate=float(u[0]), log_likelihood=float(value[0]))


@value
class Region(Value):
    """All (shape, rate) within `drop` of the greatest log-likelihood.

    Parameters
    ----------
    surface, maximum
        The likelihood and where it is greatest.
    drop : float
        Fall in log-likelihood that is still inside.
    low, high : float
        Log shapes at its two ends.
    open_low, open_high : bool
        Whether the region runs on past the shapes that bands look at.
    """

    surface: Surface
    maximum: Maximum
    drop: float
    low: float
    high: float
    open_low: bool
    open_high: bool

    _not_in_dict: ClassVar[tuple[str, ...]] = ("surface",)

    @classmethod
    def of_surface(cls, surface: Surface, *, drop: float, maximum: Maximum | None = None) -> Region:
        """Find the ends of the region.

        Raises
        ------
        NoMaximum
            As `find_maximum`.
        """
        top = find_maximum(surface) if maximum is None else maximum
        sides = []
        for end in (surface.sums.low, surface.sums.high):
            inside, outside = top.log_shape, end
            fall = top.log_likelihood - surface.profile(np.array([end]))[0][0]
            if fall <= drop:
                sides.append((end, True))
                continue
            for _ in range(14):
                # eight points a pass: each pass divides the bracket by nine
                grid = np.linspace(inside, outside, 10)
                falls = top.log_likelihood - surface.profile(grid)[0]
                k = int(np.argmax(falls > drop))
                inside, outside = grid[max(k - 1, 0)], grid[k]
            sides.append((inside, False))
        return cls(
            surface=surface,
            maximum=top,
            drop=float(drop),
            low=sides[0][0],
            high=sides[1][0],
            open_low=sides[0][1],
            open_high=sides[1][1],
        )

    def shape_at(self, phi: Array) -> Array:
        """Return log shapes for angles 0 to pi: close together where the edge turns back."""
        return np.asarray(0.5 * (self.low + self.high) - 0.5 * (self.high - self.low) * np.cos(phi))

    def edge(self, theta: Array) -> tuple[Array, Array]:
        """Return lower and upper log rates of the region at log shapes (G,)."""
        profile, u = self.surface.profile(theta)
        room = np.maximum(self.drop - (self.maximum.log_likelihood - profile), 0.0)
        return self.surface.edges(theta, u, room)

    def extremes(self, quantity: Quantity) -> tuple[Array, Array]:
        """Return lowest and highest score of a quantity, each as (score, at_open_end).

        `at_open_end` is 1 where the extreme lies at an open end of the region, so that it is no
        limit at all.
        """
        if quantity.kind == "shape":
            return (
                np.array([self.low, float(self.open_low)]),
                np.array([self.high, float(self.open_high)]),
            )
        ref = self.surface.reference_h

        def score(theta: Array, u: Array) -> Array:
            return quantity.score(theta, u, ref)

        low_edge, high_edge = (1, 0) if quantity.kind in ("life", "scale") else (0, 1)
        low = self._extreme(score, low_edge, -1.0, 1)
        high = self._extreme(score, high_edge, 1.0, 1)
        return low[:, 0], high[:, 0]

    def curve(self, kind: str, hours: Array, width_h: float = 0.0) -> tuple[Array, Array]:
        """Return lowest and highest scores at ages (m,), each as (2, m): scores, at_open_end."""
        ref = self.surface.reference_h

        def score(theta: Array, u: Array) -> Array:
            return np.asarray(u + log_hazard_factor(kind, theta, hours[None, :], width_h, ref))

        m = len(hours)
        return (
            self._extreme(score, 0, -1.0, m, FANS_OF_CURVE),
            self._extreme(score, 1, 1.0, m, FANS_OF_CURVE),
        )

    def _extreme(
        self,
        score: Callable[[Array, Array], Array],
        edge: int,
        sign: float,
        m: int,
        fans: int = FANS,
    ) -> Array:
        phi = np.linspace(0.0, np.pi, EDGE_POINTS)
        theta = self.shape_at(phi)
        u = self.edge(theta)[edge]
        values = sign * score(theta[:, None], u[:, None])
        k = np.argmax(values, axis=0)

        def at(angle: Array) -> Array:
            th = self.shape_at(angle)
            return np.asarray(sign * score(th[None, :], self.edge(th)[edge][None, :])[0])

        found = values[k, np.arange(m)]
        low, high = phi[np.maximum(k - 1, 0)], phi[np.minimum(k + 1, EDGE_POINTS - 1)]
        part = np.linspace(0.0, 1.0, FAN)[:, None]
        for _ in range(fans):
            angles = low + part * (high - low)
            th = self.shape_at(angles)
            rates = self.edge(th.ravel())[edge].reshape(th.shape)
            fan = sign * score(th, rates)
            j = np.argmax(fan, axis=0)
            found = np.maximum(found, fan[j, np.arange(m)])
            low, high = (
                angles[np.maximum(j - 1, 0), np.arange(m)],
                angles[np.minimum(j + 1, FAN - 1), np.arange(m)],
            )
        open_end = ((k == 0) & self.open_low) | ((k == EDGE_POINTS - 1) & self.open_high)
        return np.vstack([sign * found, open_end])
