"""Quoted edges held to the stated doubt of the clocks, by the rule of `widen`.

One table of bounds by age and confidence is made for a fleet, from which the rule draws. A life is
where the claim at its hours is just met, so that the two agree.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol, Self

import numpy as np

from fleetstats.advice.clock_doubt.doubts import clocks_sure, engine_doubts
from fleetstats.advice.clock_doubt.draws import draw_clocks
from fleetstats.advice.clock_doubt.widen import AGES, LEAST, MOST, BoundTable, log_hazard
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.kept import Same, kept
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings

YOUNGEST, OLDEST = 0.05, 2.5
"""Ages of the table, as shares of the oldest seen."""
AROUND = 9
"""Ages about the hours of a plan."""
TURNS = 30
"""Halvings by which a life is found: to a millionth of it and less."""


class ClockAsked(Protocol):
    """A fleet that is asked for intervals; see `advice.quoted.Quoter`."""

    @property
    def spells(self) -> Spells:
        """Return its lives."""
        ...

    @property
    def settings(self) -> Settings:
        """Return the settings that it is asked by."""
        ...

    @property
    def recorded(self) -> Spells | None:
        """Return the lives as recorded, where some of `spells` are made up."""
        ...

    @property
    def placed_from(self) -> Spells | None:
        """Return the lives of which `spells` are a placing."""
        ...

    @property
    def few(self) -> bool:
        """Return whether failures are few."""
        ...

    def sure(self, what: Quantity) -> Interval:
        """Return the interval that is quoted if every clock is right."""
        ...

    def with_settings(self, settings: Settings) -> Self:
        """Return the fleet asked by other settings."""
        ...


def hold_to_clocks(lives: ClockAsked, what: Quantity) -> Interval:
    """Return a quoted interval with its edges no better than the doubt of the clocks allows.

    Parameters
    ----------
    lives : ClockAsked
        The fleet.
    what : Quantity
        A life or a reliability.
    """
    own = lives.sure(what)
    if not len(lives.spells) or clocks_sure(lives.spells, lives.settings.clocks):
        return own
    score = _score(0.5 * (1.0 + lives.settings.study.confidence))
    read = _life if what.kind == "life" else _reliability
    low = read(lives, what, own.low, score, upper=True)
    high = read(lives, what, own.high, score, upper=False)
    note = own.note_low if low == own.low else _note(lives, own.note_low)
    return replace(own, low=low, high=high, note_low=note)


def low_held_to_clocks(
    ask: Callable[[float, float], float], spells: Spells, settings: Settings, hours: float,
    confidence: float,
) -> float:  # fmt: skip
    """Return a lower edge of the reliability no better than the doubt of the clocks allows.

    For fleets that are asked but once, as plans do.

    Parameters
    ----------
    ask : callable
        The edge if every clock is right, at hours and a one-sided confidence.
    spells : Spells
        The fleet.
    settings : Settings
        The doubt of the clocks, the seed.
    hours, confidence : float
        What is asked.
    """
    own = ask(hours, confidence)
    if not len(spells) or clocks_sure(spells, settings.clocks):
        return own
    wide = 4.0 * engine_doubts(spells, settings.clocks).greatest
    x = math.log(hours)
    table = BoundTable.of(
        lambda c, h: log_hazard(own if (h, c) == (hours, confidence) else ask(h, c), missing=MOST),
        confidence,
        x + np.linspace(-wide, wide, AROUND),
        upper=True,
    )
    draws = draw_clocks(spells, settings.clocks, settings.study.seed)
    return min(own, math.exp(-math.exp(table.mixed(draws, _score(confidence), x))))


def _note(lives: ClockAsked, before: str) -> str:
    doubts = engine_doubts(lives.spells, lives.settings.clocks)
    least, most = doubts.least, doubts.greatest
    by = f"{most:g}" if least == most else f"{least:g} to {most:g}"
    said = f"with clocks in doubt by {by} (log sd)"
    return f"{before}; {said}" if before else said


def _score(confidence: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(confidence))


def _reliability(
    lives: ClockAsked, what: Quantity, edge: float | None, score: float, *, upper: bool
) -> float | None:
    """Return an edge of the reliability, no better than mixed; `upper` is that of failing."""
    if edge is None:
        return None
    table = _table(lives, upper=upper)
    draws = draw_clocks(lives.spells, lives.settings.clocks, lives.settings.study.seed)
    out = math.exp(-math.exp(min(table.mixed(draws, score, math.log(what.hours)), MOST)))
    return min(edge, out) if upper else max(edge, out)


def _life(
    lives: ClockAsked, what: Quantity, edge: float | None, score: float, *, upper: bool
) -> float | None:
    """Return an edge of a life, no better than mixed; None where it has none."""
    if edge is None or edge <= 0.0:
        return edge
    table = _table(lives, upper=upper)
    draws = draw_clocks(lives.spells, lives.settings.clocks, lives.settings.study.seed)
    x = math.log(edge)
    far = 8.0 * draws.doubts.greatest + 1.0
    aim = math.log(-math.log1p(-what.p))

    def within(log_age: float) -> bool:
        if not upper:
            return table.mixed(draws, score, log_age) <= aim
        # As a claim at these hours is answered, so that the two agree.
        r = hold_to_clocks(lives, Quantity.reliability(math.exp(log_age)))
        return r.low is not None and r.low >= 1.0 - what.p

    near, beyond = (x - far, x) if upper else (x, x + far)
    if within(x) == upper:
        return edge
    for _ in range(TURNS):
        middle = 0.5 * (near + beyond)
        near, beyond = (middle, beyond) if within(middle) else (near, middle)
    return math.exp(near)


def _table(lives: ClockAsked, *, upper: bool) -> BoundTable:
    s = lives.settings
    key = ("clock tables", s.study.confidence, Same(s.evidence), s.study.seed, lives.few,
           Same(lives.recorded), Same(lives.placed_from))  # fmt: skip
    return kept(lives.spells, key, lambda: _make_tables(lives))[not upper]


def _make_tables(lives: ClockAsked) -> tuple[BoundTable, BoundTable]:
    """Return the tables of the upper and the lower edge of failing: each asking gives both."""
    at: dict[float, ClockAsked] = {}
    told: dict[tuple[float, float], Interval] = {}

    def ask(confidence: float, hours: float) -> Interval:
        if confidence not in at:
            at[confidence] = lives.with_settings(surer(lives.settings, confidence))
        if (confidence, hours) not in told:
            told[confidence, hours] = at[confidence].sure(Quantity.reliability(hours))
        return told[confidence, hours]

    def high(confidence: float, hours: float) -> float:
        return log_hazard(ask(confidence, hours).low, missing=MOST)

    def low(confidence: float, hours: float) -> float:
        return log_hazard(ask(confidence, hours).high, missing=LEAST)

    confidence = 0.5 * (1.0 + lives.settings.study.confidence)
    ages = table_ages(lives.spells)
    return (
        BoundTable.of(high, confidence, ages, upper=True),
        BoundTable.of(low, confidence, ages, upper=False),
    )


def table_ages(spells: Spells) -> Array:
    """Return the log ages (a,) at which bounds are tabled."""
    oldest = max(spells.oldest_h, 1.0)
    return np.log(np.geomspace(YOUNGEST * oldest, OLDEST * oldest, AGES))


def surer(settings: Settings, confidence: float) -> Settings:
    """Return settings of another one-sided confidence."""
    return replace(settings, study=replace(settings.study, confidence=2.0 * confidence - 1.0))
