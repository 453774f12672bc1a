"""Which lives ended in a removal of which kind, and what ages are expected of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.events import PLANNED_CAUSES
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

MOST_KINDS = 12
"""Kinds of one expectation that stand alone; the rarer ones are taken together."""

NO_REMOVAL = ("running", "modified")
"""Endings after which the engine goes on."""

NO_FAULT = "no fault found"

_DUE = frozenset(fold(c) for c in PLANNED_CAUSES) - {""}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of removal: its name, what is expected of it, and its lives (n,) bool."""

    name: str
    expect: str
    which: Array


def removal_kinds(spells: Spells, rows: Sequence[LifeRow]) -> list[Kind]:
    """Return the kinds of removal, those with most lives first.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    rows : sequence of LifeRow
        The life behind each, in the same order.
    """
    words = [_told(row, int(event)) for row, event in zip(rows, spells.event, strict=True)]
    number: Counter[tuple[str, str]] = Counter()
    written: dict[tuple[str, str], Counter[str]] = {}
    for told, weight in zip(words, spells.weight, strict=True):
        if told is None:
            continue
        key = told[0], fold(told[1])
        number[key] += float(weight)  # type: ignore[assignment]
        written.setdefault(key, Counter())[told[1]] += 1
    keys = [None if w is None else (w[0], fold(w[1])) for w in words]
    out: list[Kind] = []
    rest: dict[str, Array] = {}
    for key in sorted(number, key=lambda k: (-number[k], k)):
        which = np.array([k == key for k in keys], dtype=bool)
        expect = key[0]
        if sum(k.expect == expect for k in out) < MOST_KINDS:
            name = min(written[key].items(), key=lambda kv: (-kv[1], kv[0]))[0]
            out.append(Kind(name=name, expect=expect, which=which))
        else:
            rest[expect] = rest.get(expect, np.zeros(len(spells), dtype=bool)) | which
    return out + [Kind(name="rarer kinds", expect=e, which=w) for e, w in rest.items()]


def _told(row: LifeRow, event: int) -> tuple[str, str] | None:
    """Return what is expected of the end of a life, and its name; None where it is no removal."""
    if event == Event.FAILED or row.ending in NO_REMOVAL:
        return None
    cause = row.cause if cause_known(row.cause) else ""
    if event == Event.COMPETING:
        return "other-failure", cause or "no cause given"
    if event == Event.FINDING:
        return "finding", cause or "no cause given"
    if row.ending == "lost":
        return "lost", "lost to follow-up"
    if row.ending == "planned-overhaul" or fold(cause) in _DUE:
        return "planned", "planned overhaul"
    if row.ending in FAILING_ENDINGS and row.confirmed is False:
        return "random", NO_FAULT
    return "random", cause or "no cause given"
