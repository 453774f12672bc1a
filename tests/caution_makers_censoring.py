"""Makers of cautions on removals and on sources; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from caution_makers import MAKERS, NS

from fleetstats.chapters.removals import words as removals
from fleetstats.chapters.removals.values import RemovalKind, SourceOfKind
from fleetstats.chapters.sources import compute as sources
from fleetstats.chapters.sources import words as source_words
from fleetstats.chapters.sources.values import DropOff, SourceLine
from fleetstats.survival.counting.ageing import Ageing
from fleetstats.survival.groups.equal_ages import EqualAges
from fleetstats.vocabulary.caution import Caution


def _beside(n: float, high: float = 0.3) -> EqualAges:
    return EqualAges(
        n=n, n_others=30.0, expected=7.2, shared=6.0, n_compared=30.0, ratio=0.1, low=0.0,
        high=high, p_fewer=0.01, p_more=0.01, level=0.90,
    )  # fmt: skip


def _removals(p: float = 1.0, *, claim: float | None = 900.0, **own: Any) -> Iterable[Caution]:
    kind: dict[str, Any] = {
        "kind": "prop strike", "expect": "random", "n": 58.0, "n_early": 0.0, "youngest_h": 90.0,
        "median_h": 700.0, "oldest_h": 990.0, "p_held": p, "source": None, "to_turn": None,
        "ageing": Ageing(n=58.0, shape=3.1, low=2.2, high=4.0, p_rising=1e-7, level=0.90),
        "hours_all": 400.0, "failure_high_all": 0.2,
    }  # fmt: skip
    return removals.removal_cautions(
        NS(kinds=(RemovalKind(**{**kind, **own}),), claimed_h=claim, hours=800.0, shown=True)  # type: ignore[arg-type]
    )


def _of_one(p: float) -> Iterable[Caution]:
    return _removals(source=SourceOfKind(source="north", beside=_beside(9.0), p_held=p))


MAKERS["aged-removals/turns"] = lambda over: _removals(0.0499 if over else 0.05, to_turn=3)
MAKERS["aged-removals/no-claim"] = lambda over: _removals(0.0499 if over else 0.05, claim=None)
MAKERS["aged-removals-kept"] = lambda over: _removals(0.0499 if over else 0.05)
MAKERS["removals-of-one-source"] = lambda over: _of_one(0.0499 if over else 0.05)
MAKERS["early-overhauls"] = lambda over: _removals(
    expect="planned", n=9.0, n_early=3.0 if over else 2.0, to_turn=3
)


def _sources(
    *, n: float = 4.0, high: float = 0.3, n_all: float = 0.0, **p: float | None
) -> Iterable[Caution]:
    chances = {"p_fewer": None, "p_all": None, "p_drop": None, **p}
    line = SourceLine(
        source="north", n=12.0, n_ended_failed=n_all, beside=_beside(n, high),
        drop_off=DropOff(n=5, n_ranked=5, older=0.9, p=0.001), **chances,
    )  # fmt: skip
    other = SourceLine(
        source="south", n=40.0, n_ended_failed=9.0, beside=None, drop_off=None,
        p_fewer=None, p_all=None, p_drop=None,
    )  # fmt: skip
    odd = sources._odd(line, chances)
    return source_words.source_cautions(NS(lines=(NS(**{**_fields(line), "odd": odd}), other)))  # type: ignore[arg-type]


def _fields(line: SourceLine) -> dict[str, Any]:
    return {f: getattr(line, f) for f in line.__dataclass_fields__}


MAKERS["silent-source"] = lambda over: _sources(n=0.0, p_fewer=0.0499 if over else 0.05)
MAKERS["silent-source/fewer"] = lambda over: _sources(high=0.49 if over else 0.5, p_fewer=0.01)
MAKERS["all-failed-source"] = lambda over: _sources(n_all=12.0, p_all=0.0499 if over else 0.05)
MAKERS["engines-drop-off"] = lambda over: _sources(p_drop=0.0499 if over else 0.05)
