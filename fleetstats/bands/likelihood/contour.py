"""The likelihood-ratio region of any fitted family, its edge walked by angle around the maximum.

The parameters are taken on a scale without limits (logs of what must be positive), centred on the
maximum and rounded by the curvature there. In each direction the distance is found at which the
log-likelihood has fallen by the drop that the level allows; a quantity's limits are its extremes
upon that edge. A direction in which the likelihood never falls so far makes the region open
there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

import numpy as np

from fleetstats.bands.likelihood.family_rows import UNBOUNDED, weighted_log_likelihood
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.distribution import Distribution
from fleetstats.survival.fit import Fit

DIRECTIONS = 181
"""Directions walked; the extreme is then refined between neighbours."""

FAR = 12.0
"""Distance, in units of the drop's own radius, at which an edge counts as missing."""

CELLS = 1_000_000
"""Directions times rows evaluated at once."""

ROOT_STEPS = 60


@value
class Contour(Value):
    """The edge of a likelihood-ratio region in one or two parameters.

    Parameters
    ----------
    fit : Fit
    drop : float
    centre : (k,) float
        The maximum, on the unlimited scale.
    spread : (k, k) float
        Turns a unit direction into parameters.
    radius : (d,) float
        Distance to the edge in each direction; NaN where there is none.
    top : float
        Log-likelihood at the maximum.
    """

    fit: Fit
    drop: float
    centre: Array
    spread: Array
    radius: Array
    top: float

    _not_in_dict: ClassVar[tuple[str, ...]] = ("fit",)

    @classmethod
    def of_fit(cls, fit: Fit, *, drop: float) -> Contour:
        """Walk the edge around a fit.

        Raises
        ------
        BandError
            If the fit's curvature does not describe a maximum.
        """
        k = len(fit.estimate)
        if k > 2:
            raise BandError(f"A region of {k} parameters is not walked.", "Use resampling.")
        logged = np.array([name not in UNBOUNDED for name in fit.names])
        centre = np.where(logged, np.log(np.where(logged, fit.estimate, 1.0)), fit.estimate)
        jacobian = np.where(logged, 1.0 / fit.estimate, 1.0)
        covariance = fit.covariance * np.outer(jacobian, jacobian)
        try:
            spread = np.linalg.cholesky(covariance) * np.sqrt(2.0 * drop)
        except np.linalg.LinAlgError as error:
            raise BandError(
                f"The curvature of the {fit.family} fit does not describe a maximum.",
                "Use the Weibull, or the bound for an assumed shape.",
            ) from error
        out = cls(fit=fit, drop=drop, centre=centre, spread=spread, radius=np.zeros(0), top=0.0)
        top = float(out._likelihood(np.zeros(1), np.zeros(1))[0])
        out = cls(fit=fit, drop=drop, centre=centre, spread=spread, radius=np.zeros(0), top=top)
        radius = out.distances(out.angles())
        return cls(fit=fit, drop=drop, centre=centre, spread=spread, radius=radius, top=top)

    def angles(self) -> Array:
        """Return the directions walked."""
        if len(self.centre) == 1:
            return np.array([0.0, np.pi])
        return np.linspace(0.0, 2.0 * np.pi, DIRECTIONS)[:-1]

    def natural(self, angles: Array, distances: Array) -> Array:
        """Return natural parameters (k, d) at distances (d,) in directions (d,)."""
        unit = np.array([np.cos(angles), np.sin(angles)])[: len(self.centre)]
        z = self.centre[:, None] + self.spread @ (unit * distances)
        logged = np.array([name not in UNBOUNDED for name in self.fit.names])[:, None]
        with np.errstate(over="ignore"):
            return np.where(logged, np.exp(np.where(logged, z, 0.0)), z)

    def _likelihood(self, angles: Array, distances: Array) -> Array:
        natural = self.natural(angles, distances)
        spells = self.fit.spells
        step = max(1, CELLS // max(len(spells), 1))
        return np.concatenate(
            [
                weighted_log_likelihood(spells, self.fit.family, natural[:, i : i + step])
                for i in range(0, natural.shape[1], step)
            ]
        )

    def distances(self, angles: Array) -> Array:
        """Return distances (d,) to the edge in directions (d,); NaN where none is in reach.

        The root is bracketed by growing steps, then found by the Illinois form of false position.
        """

        def fall(r: Array) -> Array:
            return np.asarray(np.minimum(self.top - self._likelihood(angles, r) - self.drop, 1e6))

        low, high = np.zeros(len(angles)), np.ones(len(angles))
        at_low, at_high = np.full(len(angles), -self.drop), fall(high)
        while (inside := (at_high < 0.0) & (high <= FAR)).any():
            low, at_low = np.where(inside, high, low), np.where(inside, at_high, at_low)
            high = np.where(inside, 1.5 * high, high)
            at_high = np.where(inside, fall(high), at_high)
        missing = at_high < 0.0
        for _ in range(ROOT_STEPS):
            gap = at_high - at_low
            middle = high - at_high * (high - low) / np.where(gap == 0.0, 1.0, gap)
            middle = np.where((middle > low) & (middle < high), middle, 0.5 * (low + high))
            value = fall(middle)
            same = (value > 0.0) == (at_high > 0.0)
            # halving the value of the end that stays keeps false position from creeping
            low, at_low = np.where(same, low, high), np.where(same, 0.5 * at_low, at_high)
            high, at_high = middle, value
            low, high = np.minimum(low, high), np.maximum(low, high)
            swap = at_low > at_high
            at_low, at_high = np.where(swap, at_high, at_low), np.where(swap, at_low, at_high)
            if np.all(
                missing | (np.abs(value) < 1e-11 * (1.0 + abs(self.top))) | (high - low < 1e-13)
            ):
                break
        return np.where(missing, np.nan, middle)

    def best(self, quantity: Quantity) -> float:
        """Return the value of a quantity at the maximum."""
        return float(family_value(self.fit.distribution, self.fit.estimate, quantity))

    def extremes(self, quantity: Quantity) -> tuple[float | None, float | None]:
        """Return lowest and highest value upon the edge; None where the region is open."""

        def value(natural: Array) -> Array:
            return np.atleast_1d(family_value(self.fit.distribution, natural, quantity))

        low, high = self._extreme(value, -1.0)[0], self._extreme(value, 1.0)[0]
        return (None if np.isnan(low) else float(low)), (None if np.isnan(high) else float(high))

    def curve(self, kind: str, hours: Array, width_h: float = 0.0) -> tuple[Array, Array, Array]:
        """Return estimate, lowest and highest value (m,) at each of `hours`; NaN where open."""

        def value(natural: Array) -> Array:
            return curve_value(self.fit.distribution, natural, kind, hours, width_h)

        return value(self.fit.estimate), self._extreme(value, -1.0), self._extreme(value, 1.0)

    def _extreme(self, value: Callable[[Array], Array], sign: float) -> Array:
        angles = self.angles()
        reach = np.where(np.isnan(self.radius), FAR, self.radius)
        table = self._table(value, sign, angles, reach)
        k = np.argmax(table, axis=0)
        found = table[k, np.arange(table.shape[1])]
        if len(self.centre) == 2:
            step = angles[1] - angles[0]
            low, high = angles[k] - step, angles[k] + step
            part = np.linspace(0.0, 1.0, FAN)[:, None]
            columns = np.arange(len(k))
            for _ in range(FANS):
                fan = low + part * (high - low)
                each = self.distances(fan.ravel())
                rows = self._table(value, sign, fan.ravel(), each)
                rows = rows.reshape(FAN, len(k), -1)[:, columns, columns]
                j = np.argmax(rows, axis=0)
                found = np.maximum(found, rows[j, columns])
                low = fan[np.maximum(j - 1, 0), columns]
                high = fan[np.minimum(j + 1, FAN - 1), columns]
        return np.where(np.isnan(self.radius[k]), np.nan, sign * found)

    def _table(
        self, value: Callable[[Array], Array], sign: float, angles: Array, reach: Array
    ) -> Array:
        good = ~np.isnan(reach)
        natural = self.natural(angles, np.where(good, reach, 0.0)).T
        out = sign * np.array([value(p) for p in natural])
        return np.where(good[:, None] & ~np.isnan(out), out, -np.inf)


FAN, FANS = 9, 6
"""Directions a pass and passes of the refinement: 6e-6 rad, which a flat extreme squares."""


def family_value(distribution: Distribution, natural: Array, quantity: Quantity) -> float:
    """Return a quantity of a family at natural parameters (k,).

    Raises
    ------
    BandError
        If the family has no such quantity.
    """
    if quantity.kind in ("shape", "scale"):
        name = "shape" if quantity.kind == "shape" else "scale_h"
        if name not in distribution.names:
            raise BandError(
                f"A {distribution.title} has no {quantity.kind}.",
                "Ask for a life or a reliability instead.",
            )
        return float(natural[distribution.names.index(name)])
    if quantity.kind == "life":
        return float(distribution.quantile(np.array([quantity.p]), natural)[0])
    hours = np.array([quantity.hours])
    return float(curve_value(distribution, natural, quantity.kind, hours, quantity.width_h)[0])


def curve_value(
    distribution: Distribution, natural: Array, kind: str, hours: Array, width_h: float
) -> Array:
    """Return reliability, hazard or conditional failure (m,) at ages (m,) of a family."""
    with np.errstate(all="ignore"):
        if kind == "hazard":
            return np.asarray(np.exp(distribution.log_hazard(hours, natural)))
        at = distribution.cumulative_hazard(hours, natural)
        if kind == "reliability":
            return np.asarray(np.exp(-at))
        rise = distribution.cumulative_hazard(hours + width_h, natural) - at
        return np.asarray(-np.expm1(-np.maximum(rise, 0.0)))
