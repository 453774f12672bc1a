"""One engine under two ids: ids that look alike, or are one slip apart in two returns.

In a fleet numbered one by one most ids are one slip from another, so a slip alone says nothing. Two
returns that each know only one of the two ids, of engines that entered service on the same day and
whose readings one engine can have had, are named where chance hardly gives as many: such pairs are
expected as often as engines of different ids share a first day, or as ids one slip apart do that
one return tells both of, whichever is more.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.copied import poisson_tail
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.hours_apart import cannot_both_be
from fleetstats.records.near_ids import one_slip, slip_forms
from fleetstats.records.reading import Reading
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.ids import look_alike, normalise_id
from fleetstats.vocabulary.limits import NEAR_COPIES_CHANCE

MOST_ALIKE = 40
"""Ids of one form that are compared with each other; more are a numbering, not slips."""


@dataclass(frozen=True, slots=True)
class _Named:
    """An engine: its id, the place of its last life, the day it was new, and who tells of it."""

    engine: str
    at: int
    new: dt.date
    senders: frozenset[tuple[str, str]]


def alike_findings(lives: Sequence[LifeRow]) -> list[tuple[Finding, int]]:
    """Return the finding on each engine whose id looks like another's, with its first life."""
    first: dict[str, dict[str, int]] = {}
    out = []
    for i, x in enumerate(lives):
        alike = first.setdefault(look_alike(x.engine), {})
        if x.engine_id in alike:
            continue
        if alike:
            out.append((_tell("ids-alike", lives, i, next(iter(alike.values()))), i))
        alike[x.engine_id] = i
    return out


def slip_findings(
    lives: Sequence[LifeRow], readings: Sequence[Reading] = ()
) -> list[tuple[Finding, int]]:
    """Return the finding on engines that two returns may have under ids one slip apart.

    Parameters
    ----------
    lives : sequence of LifeRow
        Those that tell of one engine are looked at.
    readings : sequence of Reading
        Which files name which engines: of lives merged from several, the row knows one alone.
    """
    engines = _engines(lives, readings)
    if len({s for x in engines for s in x.senders}) < 2:
        return []
    apart: list[tuple[_Named, _Named]] = []
    together = Counter[bool]()
    for a, b in _one_slip_pairs(engines):
        if a.senders & b.senders:
            together[a.new == b.new] += 1
        else:
            apart.append((a, b))
    one = [(a, b) for a, b in apart if a.new == b.new and _may_be_one(lives[a.at], lives[b.at])]
    if not one:
        return []
    n = len(engines)
    days = Counter(x.new for x in engines)
    shared = sum(k * (k - 1) / 2.0 for k in days.values()) - len(one)
    by_day = (max(shared, 0.0) + 0.5) / (0.5 * n * (n - 1))
    by_slip = together[True] / max(together.total(), 1)
    if poisson_tail(len(one), len(apart) * max(by_day, by_slip)) >= NEAR_COPIES_CHANCE:
        return []
    return [(_tell("ids-alike/slip", lives, b.at, a.at), b.at) for a, b in one]


def _engines(lives: Sequence[LifeRow], readings: Sequence[Reading]) -> list[_Named]:
    """Return the engines of which the day that they entered service is known."""
    sources: dict[str, set[tuple[str, str]]] = {}
    for x in lives:
        sources.setdefault(x.origin.file, set()).add((x.origin.file, x.source))
    files: dict[str, set[str]] = {}
    for r in readings:
        for e in r.engines:
            files.setdefault(normalise_id(e), set()).add(r.file)
    own: dict[str, list[int]] = {}
    for i, x in enumerate(lives):
        if x.count == 1 and x.in_service is not None:
            own.setdefault(x.engine_id, []).append(i)
    out = []
    for engine, at in own.items():
        new = min(d for i in at if (d := lives[i].in_service) is not None)
        senders = {(lives[i].origin.file, lives[i].source) for i in at}
        for file in files.get(engine, set()) - {f for f, _ in senders}:
            senders |= sources.get(file, set())
        out.append(_Named(engine, at[-1], new, frozenset(senders)))
    return out


def _one_slip_pairs(engines: Sequence[_Named]) -> list[tuple[_Named, _Named]]:
    forms: dict[str, list[int]] = {}
    found: dict[tuple[int, int], None] = {}
    for j, x in enumerate(engines):
        for form in slip_forms(x.engine):
            alike = forms.setdefault(form, [])
            for i in alike[-MOST_ALIKE:]:
                if one_slip(engines[i].engine, x.engine):
                    found[i, j] = None
            alike.append(j)
    return [(engines[i], engines[j]) for i, j in found]


def _may_be_one(a: LifeRow, b: LifeRow) -> bool:
    """Return whether the readings of two lives can be of one engine."""
    if a.last_date is None or b.last_date is None:
        return False
    early, late = (a, b) if a.last_date <= b.last_date else (b, a)
    return early.exit_h <= late.exit_h and not cannot_both_be(a, b)


def _tell(key: str, lives: Sequence[LifeRow], i: int, k: int) -> Finding:
    x, other = lives[i], lives[k]
    return life_finding(
        key, x, column="engine", value=x.engine, related=(str(other.origin),), other=other.engine,
        place=other.origin, day=x.in_service,
    )  # fmt: skip
