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

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.copied import poisson_tail
from fleetstats.records.audit.slip_pairs import slip_pairs
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.hours_apart import cannot_both_be
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
    i, j = slip_pairs([x.engine for x in engines], MOST_ALIKE)
    new = np.array([x.new.toordinal() for x in engines])
    same_day, share = new[i] == new[j], _share_senders(engines, i, j)
    one = [
        (engines[a], engines[b])
        for a, b in zip(i[same_day & ~share].tolist(), j[same_day & ~share].tolist(), strict=True)
        if _may_be_one(lives[engines[a].at], lives[engines[b].at])
    ]
    if not one:
        return []
    n = len(engines)
    days = Counter(x.new for x in engines)
    shared = sum(k * (k - 1) / 2.0 for k in days.values()) - len(one)
    by_day = (max(shared, 0.0) + 0.5) / (0.5 * n * (n - 1))
    by_slip = int((same_day & share).sum()) / max(int(share.sum()), 1)
    if poisson_tail(len(one), int((~share).sum()) * max(by_day, by_slip)) >= NEAR_COPIES_CHANCE:
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


def _share_senders(engines: Sequence[_Named], i: Array, j: Array) -> Array:
    """Return (m,) whether one return tells of both engines of a pair."""
    kinds = {x.senders: k for k, x in enumerate({x.senders: x for x in engines}.values())}
    alike = np.array([[bool(a & b) for b in kinds] for a in kinds])
    kind = np.array([kinds[x.senders] for x in engines])
    return np.asarray(alike[kind[i], kind[j]])


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
