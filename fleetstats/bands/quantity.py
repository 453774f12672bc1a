"""What a band is asked of: a life, a reliability, a conditional failure, a hazard, a parameter.

Every method of this floor meets the Weibull through the same three facts of a quantity: its score
given shape and rate, the rate that gives a score, and whether it falls with the rate. The rate is
the cumulative hazard at a reference age: ``H(t) = rate * (t / reference_h) ** shape``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core import arguments
from fleetstats.core.errors import BandError
from fleetstats.core.gate import HOURS, HOURS_ABOVE_0, PROBABILITY, gate
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Value, value

KINDS = ("life", "reliability", "conditional", "hazard", "shape", "scale")


@value
class Quantity(Value):
    """One number that can be asked of a life distribution.

    Parameters
    ----------
    kind : str
        ``"life"`` (hours by which a share `p` has failed), ``"reliability"`` (at `hours`),
        ``"conditional"`` (chance of failing within `width_h` after surviving to `hours`),
        ``"hazard"`` (at `hours`, per hour), ``"shape"`` or ``"scale"``.
    p : float
        Share failed, for a life.
    hours, width_h : float
        Ages in hours, where the kind needs them.

    Raises
    ------
    ArgumentError
        If the kind is unknown, `p` is not within 0 and 1, or hours are not positive.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.Quantity.life(0.1)
    Quantity(kind='life', p=0.1, hours=0, width_h=0)
    >>> fs.Quantity.conditional(1200.0, 50.0).width_h
    50.0
    """

    kind: str
    p: float = 0.0
    hours: float = 0.0
    width_h: float = 0.0

    def __post_init__(self) -> None:
        arguments.choice(self.kind, "kind", KINDS)
        if self.kind == "life":
            arguments.probability(self.p, "p")
        elif self.kind == "conditional":
            arguments.hours(self.hours, "hours")
            arguments.hours(self.width_h, "width_h", zero=False)
        elif self.kind in ("reliability", "hazard"):
            arguments.hours(self.hours, "hours", zero=False)

    @classmethod
    @gate(p=PROBABILITY)
    def life(cls, p: float) -> Quantity:
        """Ask for the hours by which a share `p` has failed; 0.10 is the B10 life."""
        return cls(kind="life", p=p)

    @classmethod
    @gate(hours=HOURS_ABOVE_0)
    def reliability(cls, hours: float) -> Quantity:
        """Ask for the chance of reaching `hours` without the failure in question."""
        return cls(kind="reliability", hours=hours)

    @classmethod
    @gate(hours=HOURS, width_h=HOURS_ABOVE_0)
    def conditional(cls, hours: float, width_h: float) -> Quantity:
        """Ask for the chance of failing within `width_h` hours after surviving to `hours`."""
        return cls(kind="conditional", hours=hours, width_h=width_h)

    @classmethod
    @gate(hours=HOURS_ABOVE_0)
    def hazard(cls, hours: float) -> Quantity:
        """Ask for the failure rate at `hours`, per hour."""
        return cls(kind="hazard", hours=hours)

    @classmethod
    def shape(cls) -> Quantity:
        """Ask for the Weibull shape."""
        return cls(kind="shape")

    @classmethod
    def scale(cls) -> Quantity:
        """Ask for the Weibull scale, hours by which 63.2 % have failed."""
        return cls(kind="scale")

    @property
    def name(self) -> str:
        """Return the quantity in the trade's words."""
        if self.kind == "life":
            return f"B{100 * self.p:g} life"
        if self.kind == "reliability":
            return f"reliability at {text_hours(self.hours)}"
        if self.kind == "conditional":
            return f"chance of failing within {text_hours(self.width_h)} after {self.hours:,.0f} h"
        if self.kind == "hazard":
            return f"failure rate at {text_hours(self.hours)}"
        return self.kind

    @property
    def unit(self) -> str:
        """Return the unit as `Interval` writes it."""
        return {
            "life": "h",
            "scale": "h",
            "reliability": "probability",
            "conditional": "probability",
            "hazard": "per h",
            "shape": "",
        }[self.kind]

    @property
    def falls_with_rate(self) -> bool:
        """Return whether more failures make the value smaller, given the shape."""
        return self.kind in ("life", "scale", "reliability")

    def score(self, log_shape: ArrayLike, log_rate: ArrayLike, reference_h: float) -> Array:
        """Return a number that rises with the value (falls, for a reliability) and stays finite.

        Log hours for a life; the log of the cumulative hazard that matters for all else.
        """
        theta = np.asarray(log_shape, dtype=np.float64)
        u = np.asarray(log_rate, dtype=np.float64)
        if self.kind == "shape":
            return np.asarray(theta + 0.0 * u)
        if self.kind in ("life", "scale"):
            return np.asarray((self._log_hazard() - u) * np.exp(-theta))
        return np.asarray(u + self.log_factor(theta, reference_h))

    def of_score(self, score: ArrayLike, reference_h: float) -> Array:
        """Return the value that belongs to a score."""
        s = np.asarray(score, dtype=np.float64)
        with np.errstate(over="ignore", under="ignore"):
            if self.kind == "shape":
                return np.asarray(np.exp(s))
            if self.kind in ("life", "scale"):
                return np.asarray(reference_h * np.exp(s))
            if self.kind == "reliability":
                return np.asarray(np.exp(-np.exp(s)))
            return np.asarray(-np.expm1(-np.exp(s)) if self.kind == "conditional" else np.exp(s))

    def score_of(self, value: ArrayLike, reference_h: float) -> Array:
        """Return the score that belongs to a value."""
        v = np.asarray(value, dtype=np.float64)
        with np.errstate(divide="ignore"):
            if self.kind in ("life", "scale"):
                return np.asarray(np.log(v / reference_h))
            if self.kind == "reliability":
                return np.asarray(np.log(-np.log(v)))
            return np.asarray(np.log(-np.log1p(-v)) if self.kind == "conditional" else np.log(v))

    def value(self, log_shape: ArrayLike, log_rate: ArrayLike, reference_h: float) -> Array:
        """Return the value for log shapes and log rates, broadcast against each other."""
        return self.of_score(self.score(log_shape, log_rate, reference_h), reference_h)

    def log_rate(self, log_shape: ArrayLike, score: ArrayLike, reference_h: float) -> Array:
        """Return the log rate at which the quantity has `score`, for each log shape.

        Not for the shape itself, which no rate decides.
        """
        theta = np.asarray(log_shape, dtype=np.float64)
        s = np.asarray(score, dtype=np.float64)
        if self.kind in ("life", "scale"):
            return np.asarray(self._log_hazard() - np.exp(theta) * s)
        return np.asarray(s - self.log_factor(theta, reference_h))

    def _log_hazard(self) -> float:
        return 0.0 if self.kind == "scale" else float(np.log(-np.log1p(-self.p)))

    def log_factor(self, log_shape: ArrayLike, reference_h: float) -> Array:
        """Return log m(shape) where the hazard that matters is ``rate * m``."""
        return log_hazard_factor(self.kind, log_shape, self.hours, self.width_h, reference_h)


def log_hazard_factor(
    kind: str, log_shape: ArrayLike, hours: ArrayLike, width_h: ArrayLike, reference_h: float
) -> Array:
    """Return log m(shape) where the hazard that matters is ``rate * m``; all broadcast.

    With x = hours over reference: a reliability has m = x^shape, a conditional failure
    (x + w)^shape - x^shape, a hazard shape * x^shape / hours.
    """
    theta = np.asarray(log_shape, dtype=np.float64)
    t = np.asarray(hours, dtype=np.float64)
    width = np.asarray(width_h, dtype=np.float64)
    shape = np.exp(theta)
    if kind == "conditional":
        end = shape * np.log((t + width) / reference_h)
        # written from the end, so that a short width loses no digits
        with np.errstate(divide="ignore"):
            gap = shape * np.log1p(width / t)
        return np.asarray(end + np.log(-np.expm1(-gap)))
    with np.errstate(divide="ignore", invalid="ignore"):
        if kind == "reliability":
            return np.asarray(shape * np.log(t / reference_h))
        if kind == "hazard":
            return np.asarray(theta + (shape - 1.0) * np.log(t) - shape * np.log(reference_h))
    raise BandError(f"No hazard factor belongs to '{kind}'.")
