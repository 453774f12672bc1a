"""The one rule by which a bound becomes a number that advice and claims may quote.

From 5 failures on it is the band by the method chosen for these data. With fewer, the shape cannot
be read from the data, so the lower edge is the worse of two: the least favourable shape anywhere
in the stated range, and the bound under the prior on the shape. Claims, verdicts, the overhaul band
and the tipping points all read their edges here, so that they cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.decide.equivalents import life_equivalents, poisson_allowance, shape_grid
from fleetstats.records.settings import Settings
from fleetstats.spells import Spells
from fleetstats.survival.fit import Fit

FEW_FAILURES = 5
"""Below this many failures the shape is not read from the data."""


def prepare(
    spells: Spells, fit: Fit | None, settings: Settings, *, method: str | None = None
) -> Asked:
    """Return the bands of a fleet by the study's method, level, prior and seed."""
    return Asked.of(
        spells,
        fit,
        level=settings.study.confidence,
        method=settings.evidence.method if method is None else method,
        settings=settings.evidence,
        seed=settings.study.seed,
    )


def ask_band(
    spells: Spells,
    fit: Fit | None,
    what: Quantity,
    settings: Settings,
    *,
    method: str | None = None,
) -> Interval:
    """Return one quantity's interval by the study's method, level, prior and seed."""
    return prepare(spells, fit, settings, method=method).interval(what)


def is_few(spells: Spells, fit: Fit | None) -> bool:
    """Return whether the shape range must stand in for a fitted shape."""
    return fit is None or spells.n_failed < FEW_FAILURES


def shapes_in_use(spells: Spells, fit: Fit | None, settings: Settings) -> tuple[float, ...]:
    """Return the shapes over which known-shape answers are shown, rising.

    The study's range while failures are few; else the shape's estimate and the edges of its band,
    since a shape that the data contradict is no fair assumption.
    """
    stated = tuple(sorted(settings.evidence.shapes))
    if fit is None or is_few(spells, fit):
        return stated
    band_of = ask_band(spells, fit, Quantity.shape(), settings)
    low = min(stated[0], fit.shape) if band_of.low is None else band_of.low
    high = max(stated[-1], fit.shape) if band_of.high is None else band_of.high
    return tuple(sorted({float(f"{b:.3g}") for b in (low, fit.shape, high)}))


def worst_low(spells: Spells, what: Quantity, settings: Settings) -> tuple[float, float]:
    """Return the least favourable known-shape lower bound of a life or reliability, and its shape.

    Nelson 1985; IEC 61649:2008; see `decide/equivalents.py`. 0 where the spells hold no exposure.
    """
    confidence = 0.5 * (1.0 + settings.study.confidence)
    grid = shape_grid(settings.evidence.shapes)
    m = poisson_allowance(spells.n_failed, confidence)
    at = what.hours if what.kind == "reliability" else max(spells.oldest_h, 1e-300)
    n = life_equivalents(spells, grid, at)
    if not bool((n > 0).all()):
        return 0.0, float(grid[0])
    if what.kind == "reliability":
        lows = np.exp(-m / n)
    else:
        lows = at * (n * -np.log1p(-what.p) / m) ** (1.0 / grid)
    i = int(np.argmin(lows))
    return float(lows[i]), float(grid[i])


@dataclass(frozen=True, slots=True, kw_only=True)
class Quoter:
    """The rule at the head of this file, prepared for one fleet and asked as often as needed."""

    spells: Spells
    settings: Settings
    few: bool
    asked: Asked

    @classmethod
    def of(cls, spells: Spells, fit: Fit | None, settings: Settings) -> Quoter:
        """Prepare the rule for spells and their Weibull fit, where one exists."""
        few = is_few(spells, fit)
        asked = prepare(spells, fit, settings, method="shape-mixture" if few else None)
        return cls(spells=spells, settings=settings, few=few, asked=asked)

    def interval(self, what: Quantity) -> Interval:
        """Return the interval of a life or a reliability whose lower edge may be quoted."""
        out = self.asked.interval(what)
        if not self.few:
            return out
        low, shape = worst_low(self.spells, what, self.settings)
        if out.low is not None and out.low <= low:
            return replace(out, note_low="bound under the prior on the shape")
        note = f"least favourable shape of the stated range: {shape:.3g}"
        return replace(out, low=low, method="given-shape", note_low=note)


def quoted_interval(
    spells: Spells, fit: Fit | None, what: Quantity, settings: Settings
) -> Interval:
    """Return the interval of a life or a reliability whose lower edge may be quoted.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit of them, where one exists.
    what : Quantity
        `Quantity.life` or `Quantity.reliability`.
    settings : Settings
        Confidence, shapes, prior, method.
    """
    return Quoter.of(spells, fit, settings).interval(what)
