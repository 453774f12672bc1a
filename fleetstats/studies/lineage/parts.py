"""The parts of an advice made again one by one, each with a note of what it read.

Each part is made by the function that made it for the report, from the same lives and from settings
that tell what is read from them. So what is listed under a figure is what its computation asked
for, and not what somebody remembered. A part that another part asks for is made once and named.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from fleetstats.advice.advise import aimed_lives
from fleetstats.advice.cost.answer import advise_cost
from fleetstats.advice.horizon import advise_horizon
from fleetstats.advice.life import advise_life
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.results import Results
from fleetstats.advice.risk import advise_risk
from fleetstats.advice.verdict import advise_verdict
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.chapters.ahead import failures_again
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.value import Value
from fleetstats.spells.spells import Spells
from fleetstats.studies.lineage.every_life import EveryLife
from fleetstats.studies.reads import Reads, is_copying, telling
from fleetstats.study.settings import Settings


@dataclass(slots=True)
class Noted:
    """What was made, and what its computation read."""

    made: Any = None
    reads: Reads = field(default_factory=Reads)
    parts: list[str] = field(default_factory=list)
    chapters: list[str] = field(default_factory=list)


Again = Callable[[Any, Mapping[str, Value]], Any]
"""From results and the chapters before to what figures are taken from."""


class Asking:
    """One computation in hand: lives and settings that it may ask, and parts made before."""

    def __init__(self, workshop: Workshop, noted: Noted) -> None:
        self._workshop, self._noted = workshop, noted
        self.settings: Settings = telling(workshop.results.settings, noted.reads)
        self.spells: Spells = workshop.results.spells
        self.fit = workshop.results.fit

    def part(self, key: str) -> Any:
        """Return another part, made once and named as an input."""
        if key not in self._noted.parts:
            self._noted.parts.append(key)
        return self._workshop.part(key).made

    def aim(self) -> Quoter:
        """Return the fleet of which hours of overhaul are asked, with telling settings."""
        return aimed_lives(Quoter.of(self.spells, self.fit, self.settings))

    def chapter(self, key: str, work: Again | None = None) -> Any:
        """Return a chapter worked out again from telling settings; None where there is none.

        By `work`, where that makes the part of it alone that figures are taken from.
        """
        results = self._workshop.results
        if key not in results.chapters:
            return None
        base = replace(results, study=replace(results.study, settings=self.settings))
        asked = _NotedChapters(results.chapters, self._noted.chapters)
        return (work or CHAPTERS[key].work_out)(_noting(base, self), asked)


def _noting(results: Results, ask: Asking) -> Results:
    """Return equal results that note where a chapter reads the advice; copies of them note too."""

    def read(self: Any, name: str) -> Any:
        if name == "advice" and not is_copying(sys._getframe(1)):
            for part in ADVICE:
                ask.part(part)
        return object.__getattribute__(self, name)

    told: type[Results] = type("Results", (Results,), {"__getattribute__": read})
    return told(**{f.name: getattr(results, f.name) for f in fields(Results)})


class _NotedChapters(Mapping[str, Value]):
    """Chapters that note which of them are asked for."""

    def __init__(self, chapters: Mapping[str, Value], asked: list[str]) -> None:
        self._chapters, self._asked = chapters, asked

    def _note(self, key: str) -> None:
        if key in self._chapters and key not in self._asked:
            self._asked.append(key)

    def __getitem__(self, key: str) -> Value:
        self._note(key)
        return self._chapters[key]

    def __contains__(self, key: object) -> bool:
        self._note(str(key))
        return key in self._chapters

    def __iter__(self) -> Iterator[str]:
        return iter(self._chapters)

    def __len__(self) -> int:
        return len(self._chapters)


ADVICE = ("verdict", "band", "horizon")
"""Parts that stand for an advice as a whole: they are made from all others."""


def _verdict(ask: Asking) -> Any:
    return advise_verdict(Quoter.of(ask.spells, ask.fit, ask.settings), ask.part("horizon"))


def _band(ask: Asking) -> Any:
    names = ("wear-out", "risk", "reliability", "cost", "horizon")
    return advise_overhaul_band(*(ask.part(n) for n in names))


PARTS: dict[str, Callable[[Asking], Any]] = {
    "horizon": lambda ask: advise_horizon(ask.spells, ask.settings),
    "verdict": _verdict,
    "wear-out": lambda ask: advise_wear_out(ask.aim()),
    "risk": lambda ask: advise_risk(ask.aim(), ask.part("horizon").supported_h),
    "reliability": lambda ask: advise_life(ask.aim(), ask.part("horizon").supported_h),
    "cost": lambda ask: advise_cost(
        ask.aim(), ask.part("wear-out"), ask.part("horizon").supported_h, curves=False
    ),
    "band": _band,
    "claim": lambda ask: ask.chapter("claim"),
    "weakest": lambda ask: ask.chapter("weakest"),
    # its figures are of failures alone: seasons, spares and money would be drawn for none
    "forecast": lambda ask: ask.chapter("forecast", failures_again),
    "stop-chance": lambda ask: ask.chapter("stop-chance"),
}
"""The computations behind the figures, as `advise_hours` and the registry of chapters run them."""


@dataclass(slots=True)
class Workshop:
    """Parts of one study's results, each made at most once, and its table of all lives."""

    results: Results
    lives: EveryLife | None = None
    made: dict[str, Noted] = field(default_factory=dict)

    def part(self, key: str) -> Noted:
        """Return a part with what it read."""
        if key not in self.made:
            noted = Noted()
            noted.made = PARTS[key](Asking(self, noted))
            self.made[key] = noted
        return self.made[key]

    def run(self, make: Callable[[Asking], Any]) -> Noted:
        """Return what a computation of its own makes, with what it read."""
        noted = Noted()
        noted.made = make(Asking(self, noted))
        return noted
