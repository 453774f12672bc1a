"""One number and how sure it is; a curve and how sure it is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import ClassVar, final

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core import arguments
from fleetstats.core.gate import HOURS_ANY, gate
from fleetstats.core.units import text_hours, text_number, text_percent
from fleetstats.core.value import Array, Floats, Value, as_asked, value
from fleetstats.survival.fit import Fit


@final
@value
class Interval(Value):
    """An estimate with its two edges.

    Each edge of a two-sided interval at `level` is a one-sided bound at ``(1 + level) / 2``: both
    edges of a 0.90 interval are one-sided 95 % bounds.

    Parameters
    ----------
    name : str
        What the number is, in the trade's words, such as ``"B10 life"``.
    estimate, low, high : float or None
        None where the data give none; the matching note then says why.
    level : float
        Two-sided confidence (or credibility) in (0, 1).
    method : str
        ``"profile"``, ``"wald"``, ``"open-shapes"``, ``"shape-free"``,
        ``"near-claim"``,
        ``"weights-percentile"``, ``"weights-bca"``,
        ``"parametric"``, ``"calibrated-profile"``, ``"shape-mixture"``, ``"posterior"``, …
    unit : str
        ``"h"``, ``""`` (a plain number), ``"probability"`` or ``"per h"``.
    note_low, note_high : str
        Why an edge is missing, or what it rests on; empty when there is nothing to say.
    fit : Fit or None
        The fit that was asked, with its lives, where `band` was.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650], [0, 0])
    >>> low = fs.band(lives, None, fs.Quantity.reliability(300.0), level=0.9)
    >>> low.high is None, low.note_high
    (True, 'no upper limit from these data')
    """

    name: str
    estimate: float | None
    low: float | None
    high: float | None
    level: float
    method: str
    unit: str
    note_low: str = ""
    note_high: str = ""
    fit: Fit | None = None

    _carried: ClassVar[tuple[str, ...]] = ("fit",)

    def __post_init__(self) -> None:
        arguments.level(self.level)

    def _text(self, x: float | None) -> str:
        if x is None:
            return "none"
        if self.unit == "h":
            return text_hours(x)
        if self.unit == "probability":
            return text_percent(x)
        return text_number(x) + (" " + self.unit if self.unit else "")

    def __repr__(self) -> str:
        return (
            f"{self.name}: {self._text(self.estimate)} "
            f"({self._text(self.low)} to {self._text(self.high)}, {100 * self.level:g} %, "
            f"{self.method})"
        )


@value
class Band(Value):
    """A curve over hours with pointwise edges.

    Parameters
    ----------
    name, method, unit, level
        As for `Interval`.
    hours : (m,) float
        Rising.
    estimate, low, high : (m,) float
        NaN where there is none.
    supported_to_h : float
        Hours beyond which the curve is extrapolation.
    fit : Fit or None
        As for `Interval`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    >>> curve = fs.band_curve(lives, fs.fit_weibull(lives), "reliability", [500, 900], level=0.9)
    >>> curve.hours.tolist(), curve.estimate.round(2).tolist()
    ([500.0, 900.0], [0.96, 0.84])
    """

    name: str
    hours: Floats
    estimate: Floats
    low: Floats
    high: Floats
    level: float
    method: str
    unit: str
    supported_to_h: float
    fit: Fit | None = None

    _carried: ClassVar[tuple[str, ...]] = ("fit",)

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return the estimate at each of `hours`, between the band's own ages by straight lines.

        NaN before the first of them and past the last.
        """
        return self._read(self.estimate, hours)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return both edges at each of `hours`, as `at` has the estimate."""
        return self._read(self.low, hours), self._read(self.high, hours)

    def _read(self, column: Array, hours: ArrayLike) -> Array:
        t = np.asarray(hours, dtype=np.float64)
        return as_asked(np.interp(t, self.hours, column, left=np.nan, right=np.nan))

    def __repr__(self) -> str:
        return (
            f"{self.name}: {len(self.hours)} ages to {text_hours(float(self.hours[-1]))}, "
            f"{100 * self.level:g} % {self.method} band, "
            f"evidence to {text_hours(self.supported_to_h)}"
        )


def no_better(now: Interval, before: Interval, *, none_low: float = -math.inf) -> Interval:
    """Return an interval none of whose edges is later than that with fewer unreported failures.

    A missing upper edge or estimate is no limit; a missing lower one is `none_low`.
    """
    nones = (none_low, math.inf, math.inf)
    edges = []
    for name, none in zip(("low", "estimate", "high"), nones, strict=True):
        a, b = getattr(now, name), getattr(before, name)
        x = min(none if a is None else a, none if b is None else b)
        edges.append(x if math.isfinite(x) else None)
    return replace(now, low=edges[0], estimate=edges[1], high=edges[2])
