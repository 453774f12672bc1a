"""The one rule by which a bound becomes a number that advice and claims may quote.

From 5 failures on it is the band by the method chosen for these data. With fewer, the shape cannot
be read from the data, so the lower edge is the worse of two: the least favourable shape anywhere
in the stated range, and the bound under the prior on the shape. Claims, verdicts, the overhaul band
and the tipping points all read their edges here, so that they cannot disagree.

One failure more must not better the answer because the rule changes there. So from 5 failures on
the edge at an age is also no better than the few-failures rule makes it with 4 failures, wherever
at most 4 failures lie beyond that age: those at or before it are then as good as running. Counting
a failure as running leaves the exposure as it is, so an engine that fails at some hours can never
better this bound at those hours or beyond. The more failures, the older the ages that it still
touches, and the looser it is beside the band in use; nothing switches back. The chance of failing
before the next check is not held so: it hangs on the slope of the curve, where the least favourable
shape would still outweigh the data at 30 failures; a caution says what the change of rule did.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.equivalents import life_equivalents, poisson_allowance, shape_grid
from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import kept
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE

MOST_OF_FEW = FEW_FOR_SHAPE - 1
"""The most failures that the rule for few is asked with."""

SHORT_OF = 1.0 - 1e-6
"""A life that ends where an age's bound jumps ends short of that age, by more than rounding."""


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
    return fit is None or spells.n_failed < FEW_FOR_SHAPE


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


def worst_low(
    spells: Spells, what: Quantity, settings: Settings, *, n_failed: float | None = None
) -> tuple[float, float]:
    """Return the least favourable known-shape lower bound of a life or reliability, and its shape.

    Nelson 1985; IEC 61649:2008; see `advice/equivalents.py`. 0 where the spells hold no exposure.
    `n_failed` counts fewer failures than the spells hold, the others as running, or more.
    """
    confidence = 0.5 * (1.0 + settings.study.confidence)
    grid = shape_grid(settings.evidence.shapes)
    m = poisson_allowance(spells.n_failed if n_failed is None else n_failed, confidence)
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


def few_beyond_h(spells: Spells) -> float:
    """Return the least age in hours beyond which fewer failures lie than tell a shape.

    0 where the spells hold no more than that at all. A failure known to lie in an interval counts
    at its lower end, which can only make the bounds that hang on this age more careful.
    """

    def find() -> float:
        failed = spells.failed
        ages, weight = spells.exit_lower[failed], spells.weight[failed]
        order = np.argsort(ages, kind="stable")
        beyond = float(weight.sum()) - np.cumsum(weight[order])
        few = np.flatnonzero(beyond <= MOST_OF_FEW)
        return float(ages[order][few[0]]) if len(few) else 0.0

    return 0.0 if spells.n_failed < FEW_FOR_SHAPE else kept(spells, "few failures beyond", find)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quoter:
    """The rule at the head of this file, prepared for one fleet and asked as often as needed.

    Every answer of an advice and every judgement of a claim asks its fleet through this, so that a
    study, a cell of its page and a part of its fleet are answered by one computation.

    Parameters
    ----------
    spells : Spells
    fit : Fit or None
        Weibull fit of them; None without failures.
    settings : Settings
    few : bool
        Whether the shape range stands in for a fitted shape; with made-up failures it is that of
        the fleet as recorded, since they do not make the shape known.
    asked : Asked
    recorded : Spells or None
        The fleet as recorded, where `spells` hold unreported failures besides.
    reach_from : Spells or None
        The fleet whose evidence says how far it reaches, where `spells` hold failures that the
        records leave out; `recorded` then has no more hours than these allow.
    """

    spells: Spells
    fit: Fit | None
    settings: Settings
    few: bool
    asked: Asked
    recorded: Spells | None = None
    reach_from: Spells | None = None

    @classmethod
    def of(
        cls, spells: Spells, fit: Fit | None, settings: Settings, *, recorded: Quoter | None = None
    ) -> Quoter:
        """Prepare the rule for spells and their Weibull fit, where one exists.

        `recorded` is that of the fleet as recorded, where `spells` hold made-up failures besides.
        """
        fit = None if spells.n_failed < 1 else fit
        few = is_few(spells, fit) if recorded is None else recorded.few
        asked = prepare(spells, fit, settings, method="shape-mixture" if few else None)
        return cls(
            spells=spells,
            fit=fit,
            settings=settings,
            few=few,
            asked=asked,
            recorded=None if recorded is None else recorded.spells,
        )

    def with_settings(self, settings: Settings) -> Quoter:
        """Return the fleet asked by settings of the same evidence and seed, at any confidence."""
        asked = replace(self.asked, level=settings.study.confidence)
        return replace(self, settings=settings, asked=asked)

    @property
    def reach_h(self) -> float:
        """Return the hours at which the evidence ends; made-up failures do not move it."""
        lives = self.spells if self.recorded is None else self.recorded
        lives = lives if self.reach_from is None else self.reach_from
        least = self.settings.evidence.min_at_risk
        return kept(lives, ("horizon", least), lambda: lives.horizon_h(least=least))

    def interval(self, what: Quantity) -> Interval:
        """Return the interval of a life or a reliability whose lower edge may be quoted."""
        out = self.asked.interval(what)
        if not self.few:
            return self._held(out, what)
        low, shape = worst_low(self.spells, what, self.settings)
        note = f"least favourable shape of the stated range: {shape:.3g}"
        seen, r = self.recorded, self.spells.n_failed
        if seen is not None and (what.kind == "reliability" or self.reach_from is not None):
            # nobody saw the hours of an unreported failure: the exposure stays as recorded
            low = min(low, worst_low(seen, what, self.settings, n_failed=r)[0])
        if out.low is not None and out.low <= low:
            return replace(out, note_low="bound under the prior on the shape")
        return replace(out, low=low, method="given-shape", note_low=note)

    def _held(self, out: Interval, what: Quantity) -> Interval:
        """Hold the lower edge to the few-failures rule where at most 4 failures lie beyond."""
        start_h = few_beyond_h(self.spells)
        age = out.low if what.kind == "life" else what.hours
        if out.low is None or age is None or age < start_h:
            return out
        # nobody saw the hours of an unreported failure: the exposure stays as recorded
        seen = self.spells if self.recorded is None else self.recorded
        low, shape = worst_low(seen, what, self.settings, n_failed=MOST_OF_FEW)
        note = f"held to the bound of {MOST_OF_FEW} failures, least favourable shape {shape:.3g}"
        if what.kind == "life" and low < SHORT_OF * start_h:
            # ages short of that are the band's, whatever the other rule says there
            low = SHORT_OF * start_h
            note = f"held to the bound of {MOST_OF_FEW} failures from {start_h:,.0f} h on"
        if out.low <= low:
            return out
        return replace(out, low=low, method="given-shape", note_low=note)


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
