"""From a computation and the lives it was given to the entry of one figure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.studies.lineage.every_life import list_lives
from fleetstats.studies.lineage.parts import Asking, Noted, Workshop
from fleetstats.studies.lineage.values import Figured
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.slugs import slug

ALL = "all lives that are counted"
"""Which lives a fit, a bound or a band rests on."""

SUMMED = 1e-12
"""Relative difference that the order of adding can make: some thousand roundings of 1e-16."""

FIGURES_OF = {
    "horizon": ("end of the evidence",),
    "verdict": ("verdict on the claimed interval",),
    "wear-out": ("Weibull shape",),
    "risk": ("age by the accepted chance between checks",),
    "reliability": (
        "life of the target share, lower edge", "life of the target share",
        "life of the target share, upper edge",
    ),
    "cost": ("cheapest age",),
    "forecast": ("expected failures",),
}  # fmt: skip
"""The figures in which a part shows, where another part asks for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What is taken from a part: the value, and its interval where it has one."""

    value: float | str | None
    low: float | None = None
    high: float | None = None
    level: float | None = None


def only(value: float | str | None) -> Taken:
    """Return a value without an interval."""
    return Taken(value=value)


def only_of(take: Callable[[Any], float | None]) -> Callable[[Any], Taken]:
    """Return what takes a value without an interval from a part."""
    return lambda part: only(take(part))


def edges_of(x: Interval | None, side: str = "estimate") -> Taken:
    """Return one side of an interval with both its edges."""
    if x is None:
        return Taken(value=None)
    return Taken(value=getattr(x, side), low=x.low, high=x.high, level=x.level)


def rest_of(x: Interval, side: str) -> Taken:
    """Return what one side of a reliability leaves: a chance of failure, with both its edges."""
    value, low, high = (None if v is None else 1.0 - v for v in (getattr(x, side), x.high, x.low))
    return Taken(value=value, low=low, high=high, level=x.level)


@dataclass(slots=True)
class Tracing:
    """The figures of one study as they are traced."""

    results: Results
    workshop: Workshop = field(init=False)
    found: list[Figured] = field(default_factory=list)
    everyone: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.everyone = tuple(range(1, len(self.results.spells) + 1))
        self.workshop = Workshop(results=self.results, lives=list_lives(self.results))

    @property
    def owned(self) -> dict[str, Any]:
        """Return the parts as the report has them."""
        a, chapters = self.results.advice, self.results.chapters
        return {
            "horizon": a.horizon, "verdict": a.verdict, "wear-out": a.wear_out, "risk": a.risk,
            "reliability": a.reliability, "cost": a.cost, "band": a.overhaul_band,
            **{k: chapters.get(k) for k in ("claim", "weakest", "forecast", "stop-chance")},
        }  # fmt: skip

    def count(
        self,
        quantity: str,
        value: float | None,
        count: Callable[[Spells], float | None],
        *,
        keep: Array | None = None,
        **told: Any,
    ) -> None:
        """Add a figure that is counted from some of the lives; `keep` (n,) says from which.

        It is counted again from those alone, so that what is listed is what it rests on.
        """
        spells = self.results.spells if keep is None else self.results.spells.select(keep)
        told = {"settings": (), "of": ALL} | told
        again = count(spells)
        # a sum over fewer lives is added up in another order
        if value is not None and again is not None and math.isclose(value, again, rel_tol=SUMMED):
            again = value
        self._add(quantity, Taken(value=value), Taken(value=again), keep=keep, **told)

    def part(
        self,
        quantity: str,
        part: str,
        take: Callable[[Any], Taken],
        *,
        keep: Array | None = None,
        **told: Any,
    ) -> None:
        """Add a figure that is taken from a part of the advice or from a chapter."""
        own = self.owned[part]
        if own is None or take(own).value is None:
            return
        noted = self.workshop.part(part)
        again = Taken(value=None) if noted.made is None else take(noted.made)
        told = {"of": ALL} | told | self._inputs(noted)
        self._add(quantity, take(own), again, keep=keep, **told)

    def setting(
        self, quantity: str, value: float | str | None, make: Callable[[Asking], Any], **told: Any
    ) -> None:
        """Add a figure that follows from settings, or from other figures, and from no life."""
        if value is None:
            return
        noted = self.workshop.run(make)
        told = self._inputs(noted) | {"of": ""} | told
        self._add(quantity, Taken(value=value), Taken(value=noted.made), **told)

    def _inputs(self, noted: Noted) -> dict[str, Any]:
        """Return settings, figures and chapters that a computation and its parts asked for."""
        keys, chapters, figures = set(noted.reads.keys), list(noted.chapters), []
        for name in noted.parts:
            inner = self._inputs(self.workshop.part(name))
            keys |= set(inner["settings"])
            chapters += [c for c in inner["chapters"] if c not in chapters]
            figures += [slug(q) for q in FIGURES_OF.get(name, ())]
        return {
            "settings": tuple(sorted(keys)), "chapters": tuple(chapters), "figures": tuple(figures),
        }  # fmt: skip

    def _add(
        self,
        quantity: str,
        own: Taken,
        again: Taken,
        *,
        printed: tuple[str, ...],
        unit: str,
        rule: str,
        of: str,
        keep: Array | None = None,
        **told: Any,
    ) -> None:
        if own.value is None:
            return
        n = len(self.results.spells)
        which = self.everyone if keep is None else tuple((np.flatnonzero(keep) + 1).tolist())
        # a table read by chunks has pairs of entry and end in place of lives
        listed = of and not self.results.how_read.by_chunks
        self.found.append(
            Figured(
                key=self._key(quantity),
                name=capital(quantity),
                printed=tuple(dict.fromkeys(printed)),
                value=own.value,
                unit=unit,
                low=own.low,
                high=own.high,
                level=own.level,
                rule=rule,
                of=of,
                lives=which if listed else (),
                every=bool(of) and len(which) == n,
                made_again=_alike(own, again),
                **told,
            )
        )

    def _key(self, quantity: str) -> str:
        """Return the key of a figure; names that differ in signs alone are told apart."""
        known, key, n = {f.key for f in self.found}, slug(quantity), 2
        while key in known:
            key, n = f"{slug(quantity)}-{n}", n + 1
        return key

    def finish(self) -> tuple[Figured, ...]:
        """Return the figures found; inputs that are no figure of this study are left out."""
        keys = {f.key for f in self.found}
        return tuple(
            replace(f, figures=tuple(k for k in f.figures if k in keys)) for f in self.found
        )


def _alike(a: Taken, b: Taken) -> bool:
    pairs = ((a.value, b.value), (a.low, b.low), (a.high, b.high), (a.level, b.level))
    return all(_equal(x, y) for x, y in pairs)


def _equal(a: float | str | None, b: float | str | None) -> bool:
    if isinstance(a, str) or isinstance(b, str) or a is None or b is None:
        return a == b
    return a == b or (math.isnan(a) and math.isnan(b))
