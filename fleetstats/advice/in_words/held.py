"""Quoted edges held to the worse end of the intervals that words tell for hours of failures.

A failure "at about 800 h" may have come at 750 h or at 850 h. The likelihood of the interval stands
between the two; a bound that is quoted must hold for either, and a wider doubt must not better it.
So the fleet is asked as it stands and with these failures at the ends of their intervals, in the
ways of `held_at_ends`, and the worst edge counts. Not every mixture of ends is tried: against
truths drawn within, and from one width to a greater, ``tests/laws/test_words_laws.py`` measures
what that leaves, a tenth of a point.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Protocol, Self

from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import kept
from fleetstats.spells.edges import held_at_ends
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit

IN_WORDS = "hours told in words at the end of their intervals that is worse"
"""Why a lower edge is below that of the intervals."""


class WordsAsked(Protocol):
    """A fleet that is asked for intervals; see `advice.quoted.Quoter`."""

    @property
    def spells(self) -> Spells:
        """Return its lives."""
        ...

    @property
    def fit(self) -> Fit | None:
        """Return their fit."""
        ...

    @property
    def settings(self) -> Settings:
        """Return the settings that it is asked by."""
        ...

    @property
    def few(self) -> bool:
        """Return whether failures are few."""
        ...

    @property
    def recorded(self) -> Spells | None:
        """Return the lives as recorded, where some of `spells` are made up."""
        ...

    @property
    def reach_from(self) -> Spells | None:
        """Return the lives that say how far the evidence reaches."""
        ...

    @property
    def placed_from(self) -> Spells | None:
        """Return the lives of which `spells` are a placing."""
        ...

    def as_it_stands(self, what: Quantity) -> Interval:
        """Return the interval with those of failures as they stand."""
        ...

    @classmethod
    def prepared(
        cls, spells: Spells, fit: Fit | None, settings: Settings, *, few: bool,
        recorded: Spells | None = None, reach_from: Spells | None = None,
        placed_from: Spells | None = None,
    ) -> Self:  # fmt: skip
        """Prepare a fleet."""
        ...


def hold_to_words(lives: WordsAsked, own: Interval, what: Quantity) -> Interval:
    """Return the interval `own` with its lower edge no better than at either end."""
    if own.low is None or not lives.spells.in_words.any():
        return own
    worst = min(x.as_it_stands(what).low or 0.0 for x in _at_ends(lives))
    return own if worst >= own.low else replace(own, low=worst, note_low=IN_WORDS)


def low_held_to_words(
    ask: Callable[[Spells, Spells | None], float], spells: Spells, recorded: Spells | None
) -> float:
    """Return what `ask` says of a fleet and of the one as recorded, or of the worse end."""
    own = ask(spells, recorded)
    ends = zip(held_at_ends(spells), _beside(spells, recorded), strict=True)
    return min((own, *(ask(s, r) for s, r in ends)))


def _at_ends(lives: WordsAsked) -> Iterator[WordsAsked]:
    recorded = _beside(lives.spells, lives.recorded)
    placed = _beside(lives.spells, lives.placed_from)
    for s, r, p in zip(held_at_ends(lives.spells), recorded, placed, strict=True):
        fit = None if lives.fit is None else _fit_of(s)
        yield lives.prepared(
            s, fit, lives.settings, few=lives.few, recorded=r, reach_from=lives.reach_from,
            placed_from=p,
        )  # fmt: skip


def _fit_of(spells: Spells) -> Fit | None:
    return kept(spells, "fit at an end", lambda: try_fit(spells))


def _beside(spells: Spells, other: Spells | None) -> tuple[Spells | None, ...]:
    """Return what stands beside each of the ends of `spells`: the other fleet at the same."""
    n = len(held_at_ends(spells))
    ends = () if other is None else held_at_ends(other)
    return ends if len(ends) == n else (other,) * n
