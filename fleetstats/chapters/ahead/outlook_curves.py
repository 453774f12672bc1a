"""Chances of failing for many engines at once, from the report's bands and from all laws.

Edges are the outer of two: those of the report's curves, which hold if lives are Weibull, and those
of the draws over all laws. What is told as likeliest is that of `shrunk`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.bands.choose import Asked
from fleetstats.bands.method import choose_method
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.ahead.read_off import at_ages
from fleetstats.chapters.ahead.shrunk import shrunk_chance
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

NODES = 16
"""Ages at which a band is computed; between them log chances are straight to 1 % of a chance."""
NODES_TO_OVERHAUL = 8


@value
class Chance(Value):
    """A chance of failing with its band; `width_h` are the hours ahead; None: no such edge."""

    width_h: float
    estimate: float | None
    low: float | None
    high: float | None


OneChance = TypeVar("OneChance", Chance, Chance | None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """The study's bands, asked at a few ages and read off between them."""

    spells: Spells
    fit: Fit | None
    settings: Settings
    draws: LifeCurves

    @property
    def method(self) -> str:
        """Return the method of the bands."""
        return choose_method(self.spells, self.settings.evidence).method

    @property
    def why(self) -> str:
        """Return why it is that method."""
        return choose_method(self.spells, self.settings.evidence).why

    def _asked(self) -> Asked:
        return Asked.of(
            self.spells,
            self.fit,
            level=self.settings.study.confidence,
            settings=self.settings.evidence,
            seed=self.settings.study.seed,
        )

    def within(self, age: Array, width_h: float) -> list[Chance]:
        """Return the chance of failing within `width_h` for each of `age` (n,)."""
        return _once_an_age(age, lambda t: self._within(t, width_h))

    def _within(self, age: Array, width_h: float) -> list[Chance]:
        top = max(float(age.max()), 1.0)
        nodes = np.geomspace(max(float(age.min()), 0.01 * top), top, NODES)
        nodes = np.unique(nodes)
        curve = self._asked().curve("conditional", nodes, width_h=width_h)
        low, high = (_between(age, nodes, v) for v in (curve.low, curve.high))
        return self._chances(age, low, high, lambda t: np.full(len(t), width_h))

    def until(self, age: Array, planned_h: float) -> list[Chance | None]:
        """Return the chance of failing up to `planned_h` for each age; None for those past it."""
        return _once_an_age(age, lambda t: self._until(t, planned_h))

    def _until(self, age: Array, planned_h: float) -> list[Chance | None]:
        before = age < planned_h - 1e-9
        if not before.any():
            return [None] * len(age)
        low = max(float(age[before].min()), 0.01 * planned_h)
        nodes = np.unique(np.geomspace(min(low, 0.99 * planned_h), 0.999 * planned_h,
                                       NODES_TO_OVERHAUL))  # fmt: skip
        asked = self._asked()
        rows = [asked.interval(Quantity.conditional(float(t), planned_h - float(t))) for t in nodes]
        left = planned_h - nodes
        at = []
        for f in ("low", "high"):
            v = [getattr(r, f) for r in rows]
            # The mean rate up to the overhaul is smooth in age; the chance itself runs to 0.
            rate = np.array([np.nan if x is None else x for x in v]) / left
            at.append(_between(age, nodes, rate) * np.maximum(planned_h - age, 0.0))
        told = self._chances(age, at[0], at[1], lambda t: np.maximum(planned_h - t, 0.0))
        return [c if ahead else None for c, ahead in zip(told, before, strict=True)]

    def _chances(
        self,
        age: Array,
        low: Array,
        high: Array,
        ahead: Callable[[Array], Array],
    ) -> list[Chance]:
        """Return a chance for each of `age` (n,) from the edges of the report's curves (n,).

        `ahead` tells the hours ahead at an age.
        """
        tail = 0.5 * (1.0 - self.settings.study.confidence)

        def of_draws(t: Array) -> Array:
            chances = self.draws.conditional_failure(t, ahead(t))
            edges = np.quantile(chances, (tail, 1 - tail), axis=0)
            return np.stack([*edges, shrunk_chance(self.spells, self.draws, t, ahead(t))])

        least, most, middle = at_ages(age, of_draws)
        low = np.minimum(np.minimum(low, least), middle)
        high = np.maximum(np.maximum(high, most), middle)
        return [
            Chance(width_h=float(w), estimate=_known(m), low=_known(a), high=_known(b))
            for w, m, a, b in zip(ahead(age), middle, low, high, strict=True)
        ]


def _once_an_age(age: Array, work: Callable[[Array], list[OneChance]]) -> list[OneChance]:
    """Return what is worked out of each of `age` (n,), engines of one age sharing it."""
    some, place = np.unique(age, return_inverse=True)
    told = work(some)
    return [told[k] for k in place.ravel().tolist()]


def _between(age: Array, nodes: Array, values: Array) -> Array:
    """Read log values off straight lines in log age; NaN where an edge is missing."""
    if not np.all(np.isfinite(values)) or np.any(values <= 0.0):
        ok = np.isfinite(values)
        if not ok.any():
            return np.full(len(age), np.nan)
        values = np.where(ok, np.maximum(values, 1e-300), np.nan)
    with np.errstate(invalid="ignore"):
        x = np.log(np.maximum(age, nodes[0]))
        return np.asarray(np.exp(np.interp(x, np.log(nodes), np.log(values))))


def _known(x: float) -> float | None:
    return float(min(x, 1.0)) if np.isfinite(x) else None
