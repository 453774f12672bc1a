"""The likelihood-ratio region of any fitted family, its edge walked by angle around the maximum.

The parameters are taken on a scale without limits (logs of what must be positive), centred on the
maximum and rounded by the curvature there. In each direction the distance is found at which the
log-likelihood has fallen by the drop that the level allows; a quantity's limits are its extremes
upon that edge. A direction in which the likelihood never falls so far makes the region open
there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError
from fleetstats.core.value import Array, Value
from fleetstats.spells.spells import Spells
from fleetstats.survival.distribution import Distribution
from fleetstats.survival.fit import Fit

DIRECTIONS = 181
"""Directions walked; the extreme is then refined between neighbours."""

FAR = 12.0
"""Distance, in units of the drop's own radius, at which an edge counts as missing."""

UNBOUNDED = ("mu", "location_h")
"""Parameters that may be negative; all others are taken in logs."""


def row_log_likelihood(distribution: Distribution, natural: Array, spells: Spells) -> float:
    """Return the log-likelihood of spells under one family; -inf where it is not defined."""
    h = distribution.cumulative_hazard
    with np.errstate(all="ignore"):
        start = np.where(spells.entry > 0.0, h(np.maximum(spells.entry, 1e-300), natural), 0.0)
        if distribution.family == "smallest-extreme-value":
            # its lives may in principle be negative; entry at 0 means followed from the start
            start = np.where(spells.entry > 0.0, start, 0.0)
        exact = spells.failed & ~spells.interval_known
        end = h(spells.exit_upper, natural)
        out = start - end
        out = np.where(exact, out + distribution.log_hazard(spells.exit_upper, natural), out)
        between = spells.interval_known
        if between.any():
            low, high = spells.exit_lower[between], spells.exit_upper[between]
            at_low = np.where(low > 0.0, h(np.maximum(low, 1e-300), natural), 0.0)
            gap = h(high, natural) - at_low
            out[between] = start[between] - at_low + np.log(-np.expm1(-gap))
        total = float((spells.weight * out).sum())
    return total if np.isfinite(total) else -np.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
        top = row_log_likelihood(fit.distribution, fit.estimate, fit.spells)
        out = cls(fit=fit, drop=drop, centre=centre, spread=spread, radius=np.zeros(0), top=top)
        radius = np.array([out.distance(a) for a in out.angles()])
        return cls(fit=fit, drop=drop, centre=centre, spread=spread, radius=radius, top=top)

    def angles(self) -> Array:
        """Return the directions walked."""
        if len(self.centre) == 1:
            return np.array([0.0, np.pi])
        return np.linspace(0.0, 2.0 * np.pi, DIRECTIONS)[:-1]

    def natural(self, angle: float, distance: float) -> Array:
        """Return natural parameters at a distance in a direction."""
        unit = np.array([np.cos(angle), np.sin(angle)])[: len(self.centre)]
        z = self.centre + distance * (self.spread @ unit)
        with np.errstate(over="ignore"):
            return np.array(
                [
                    v if name in UNBOUNDED else np.exp(v)
                    for v, name in zip(z, self.fit.names, strict=True)
                ]
            )

    def fall(self, angle: float, distance: float) -> float:
        """Return how far the log-likelihood has fallen below its maximum, less the drop."""
        natural = self.natural(angle, distance)
        here = row_log_likelihood(self.fit.distribution, natural, self.fit.spells)
        return self.top - here - self.drop

    def distance(self, angle: float) -> float:
        """Return the distance to the edge in a direction; NaN if there is none within reach."""
        from scipy.optimize import brentq

        high = 1.0
        while self.fall(angle, high) < 0.0:
            high *= 1.5
            if high > FAR:
                return float("nan")
        low = high / 1.5 if high > 1.0 else 0.0

        def capped(r: float) -> float:
            return min(self.fall(angle, r), 1e6)

        return float(brentq(capped, low, high, xtol=1e-12, rtol=1e-12))

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
        table = sign * np.array(
            [value(self.natural(a, r)) for a, r in zip(angles, reach, strict=True)]
        )
        table = np.where(np.isnan(table), -np.inf, table)
        k = np.argmax(table, axis=0)
        found = table[k, np.arange(table.shape[1])]
        if len(self.centre) == 2:
            step = angles[1] - angles[0]
            for j in np.unique(k):
                # columns that share a direction share the search around it
                mine = np.flatnonzero(k == j)
                best = self._refine(value, sign, mine, angles[j] - step, angles[j] + step)
                found[mine] = np.maximum(found[mine], best)
        return np.where(np.isnan(self.radius[k]), np.nan, sign * found)

    def _refine(
        self, value: Callable[[Array], Array], sign: float, mine: Array, low: float, high: float
    ) -> Array:
        # nested fans of nine directions: the extreme is flat, so 1e-6 rad gives it to 1e-12
        best = np.full(len(mine), -np.inf)
        left, right = np.full(len(mine), low), np.full(len(mine), high)
        for _ in range(FANS if len(mine) == 1 else 1):
            fan = np.linspace(left.min(), right.max(), 9)
            rows = []
            for a in fan:
                r = self.distance(float(a))
                rows.append(
                    np.full(len(mine), -np.inf)
                    if np.isnan(r)
                    else sign * value(self.natural(float(a), r))[mine]
                )
            table = np.array(rows)
            k = np.argmax(table, axis=0)
            best = np.maximum(best, table[k, np.arange(len(mine))])
            left, right = fan[np.maximum(k - 1, 0)], fan[np.minimum(k + 1, 8)]
        return best


FANS = 9
"""Fans nested about one extreme; curves take a single one, which is below a pixel."""


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
