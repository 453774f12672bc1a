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
from functools import cache

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


Senders = frozenset[tuple[str, str]]
"""Files and sources that tell of an engine."""


@dataclass(frozen=True, slots=True)
class _Named:
    """Engines as columns (n): id, place of the last life, day when new, and who tells of each.

    `kind` is the number of its senders among `kinds`.
    """

    engine: list[str]
    at: list[int]
    new: list[dt.date]
    kind: list[int]
    kinds: list[Senders]


def alike_findings(lives: Sequence[LifeRow]) -> list[tuple[Finding, int]]:
    """Return the finding on each engine whose id looks like another's, with its first life."""
    first: dict[str, int] = {}
    told: set[tuple[str, str]] = set()
    out = []
    for i, x in enumerate(lives):
        k = first.setdefault(form := look_alike(x.engine), i)
        if x.engine_id != lives[k].engine_id and (form, x.engine_id) not in told:
            told.add((form, x.engine_id))
            out.append((_tell("ids-alike", lives, i, k), i))
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
    if len(frozenset().union(*engines.kinds)) < 2:
        return []
    i, j = slip_pairs(engines.engine, MOST_ALIKE)
    new = np.array([d.toordinal() for d in engines.new])
    same_day, share = new[i] == new[j], _share_senders(engines, i, j)
    near = same_day & ~share
    one = [
        (a, b)
        for a, b in zip(i[near].tolist(), j[near].tolist(), strict=True)
        if _may_be_one(lives[engines.at[a]], lives[engines.at[b]])
    ]
    if not one:
        return []
    n = len(engines.at)
    days = Counter(engines.new)
    shared = sum(k * (k - 1) / 2.0 for k in days.values()) - len(one)
    by_day = (max(shared, 0.0) + 0.5) / (0.5 * n * (n - 1))
    by_slip = int((same_day & share).sum()) / max(int(share.sum()), 1)
    if poisson_tail(len(one), int((~share).sum()) * max(by_day, by_slip)) >= NEAR_COPIES_CHANCE:
        return []
    at = engines.at
    return [(_tell("ids-alike/slip", lives, at[b], at[a]), at[b]) for a, b in one]


def _engines(lives: Sequence[LifeRow], readings: Sequence[Reading]) -> _Named:
    """Return the engines of which the day that they entered service is known."""
    sources: dict[str, set[tuple[str, str]]] = {}
    for x in lives:
        sources.setdefault(x.origin.file, set()).add((x.origin.file, x.source))
    files = _files_naming(lives, readings)
    known: dict[Senders, int] = {}

    @cache  # few different: most engines are told of by the same returns
    def kind_of(told: Senders, named_in: frozenset[str]) -> int:
        further = named_in - {f for f, _ in told}
        return known.setdefault(
            told.union(*(sources.get(file, set()) for file in further)), len(known)
        )

    @cache
    def of_one(file: str, source: str, named_in: frozenset[str]) -> int:
        return kind_of(frozenset([(file, source)]), named_in)

    last: dict[str, int] = {}
    further: dict[str, list[int]] = {}
    for i, x in enumerate(lives):
        if x.count == 1 and x.in_service is not None:
            if x.engine_id in last:
                further.setdefault(x.engine_id, [last[x.engine_id]]).append(i)
            last[x.engine_id] = i
    none: frozenset[str] = frozenset()
    new: list[dt.date] = []
    kind: list[int] = []
    for engine, i in last.items():
        x, named_in = lives[i], files.get(engine, none)
        at = further.get(engine, [i])
        days = [d for k in at if (d := lives[k].in_service) is not None]
        new.append(min(days))
        if len(at) == 1:
            kind.append(of_one(x.origin.file, x.source, named_in))
        else:
            told = frozenset((lives[k].origin.file, lives[k].source) for k in at)
            kind.append(kind_of(told, named_in))
    return _Named(list(last), list(last.values()), new, kind, list(known))


def _files_naming(
    lives: Sequence[LifeRow], readings: Sequence[Reading]
) -> dict[str, frozenset[str]]:
    """Return the files that name each engine, by its id."""
    known = {x.engine: x.engine_id for x in lives}

    @cache
    def joined(files: frozenset[str], file: str) -> frozenset[str]:
        return files | {file}

    none: frozenset[str] = frozenset()
    out: dict[str, frozenset[str]] = {}
    for r in readings:
        for e in r.engines:
            name = known[e] if e in known else normalise_id(e)
            out[name] = joined(out.get(name, none), r.file)
    return out


def _share_senders(engines: _Named, i: Array, j: Array) -> Array:
    """Return (m,) whether one return tells of both engines of a pair."""
    kinds, kind = engines.kinds, np.array(engines.kind)
    alike = np.array([[bool(a & b) for b in kinds] for a in kinds])
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
