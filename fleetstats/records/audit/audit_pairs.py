"""Audit of lives against each other: one engine told twice, hours that run backwards."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from fleetstats.core.value import plain
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.slip_pairs import slip_candidates
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

HOURS_ALIKE = 0.02
"""Two reports of one failure differ by no more than 2 % in hours."""
DAYS_ALIKE = 60
"""… and by no more than 60 days."""
MAX_NEIGHBOURS = 200
"""Failures of ids nearly alike that one failure is compared with."""
OVERLAP_H = 0.05
BACKWARDS_H = 0.5

Mark = tuple[Finding, int]
"""A finding and the index of the life that it stands at."""


def audit_pairs(lives: Sequence[LifeRow]) -> Iterator[Mark]:
    """Yield what lives of the same engine, or failures nearly alike, say against each other.

    Rows that stand for several engines are not compared: their id is a label.
    """
    yield from audit_engines(lives)
    yield from _alike(lives)


def audit_engines(lives: Sequence[LifeRow]) -> Iterator[Mark]:
    """Yield what lives of the same engine say against each other."""
    by_engine: dict[str, list[int]] = {}
    for i, life in enumerate(lives):
        if life.count == 1:
            by_engine.setdefault(life.engine_id, []).append(i)
    for group in by_engine.values():
        if len(group) > 1:
            yield from _respelt(lives, group)
            single = yield from _same_rows(lives, group)
            yield from _overlaps(lives, single)
            yield from _backwards(lives, single)


def _respelt(lives: Sequence[LifeRow], group: list[int]) -> Iterator[Mark]:
    first = group[0]
    names = {lives[i].engine for i in group}
    if len(names) > 1:
        i = next(i for i in group if lives[i].engine != lives[first].engine)
        yield (
            life_finding(
                "engine-respelt",
                lives[i],
                column="engine",
                value=lives[i].engine,
                related=(str(lives[first].origin),),
                spellings=", ".join(repr(n) for n in sorted(names)),
            ),
            i,
        )


def _same_rows(lives: Sequence[LifeRow], group: list[int]) -> Any:
    """Yield rows that say the same; return the group without them."""
    seen: dict[str, int] = {}
    single: list[int] = []
    for i in group:
        text = _fingerprint(lives[i])
        twin = seen.setdefault(text, i)
        if twin == i:
            single.append(i)
            continue
        yield (
            life_finding(
                "duplicate-row",
                lives[i],
                column="engine",
                value=lives[i].engine,
                related=(str(lives[twin].origin),),
                twin=lives[twin].origin,
            ),
            i,
        )
    return single


def _fingerprint(life: LifeRow) -> str:
    skip = {"origin", "rows", "elsewhere", "log_file", "engine", "source", "note"}
    told = {f.name: plain(getattr(life, f.name)) for f in fields(life) if f.name not in skip}
    told["cause"] = fold(life.cause)
    return repr(sorted(told.items()))


def _span(life: LifeRow) -> tuple[float, float]:
    return life.life_start_h + life.entry_h, life.life_start_h + life.exit_h


def _knows(life: LifeRow) -> tuple[bool, str, float]:
    """Rank a life by how much it knows: an end, a later date, more hours."""
    last = life.last_date
    return (
        life.ending not in ("running", "lost"),
        last.isoformat() if last else "",
        life.exit_h,
    )


def _overlaps(lives: Sequence[LifeRow], group: list[int]) -> Iterator[Mark]:
    order = sorted(group, key=lambda i: (_span(lives[i]), i))
    best = order[0] if order else 0
    for i in order[1:]:
        if _span(lives[i])[0] >= _span(lives[best])[1] - OVERLAP_H:
            best = i
            continue
        less, more = (i, best) if _knows(lives[i]) <= _knows(lives[best]) else (best, i)
        a, b = lives[less], lives[more]
        yield (
            life_finding(
                "duplicate-life",
                a,
                column="engine",
                value=a.engine,
                related=(str(b.origin),),
                name=a.engine,
                told=_told(a),
                other=b.origin,
                other_told=_told(b),
            ),
            less,
        )
        best = more


def _told(life: LifeRow) -> str:
    a, b = _span(life)
    return f"{life.ending} at {b:g} h" + (f" from {a:g} h" if a else "")


def _backwards(lives: Sequence[LifeRow], group: list[int]) -> Iterator[Mark]:
    dated = [(i, d) for i in group if (d := lives[i].last_date) is not None]
    dated.sort(key=lambda pair: pair[1])
    for (i, di), (j, dj) in itertools.pairwise(dated):
        hi, hj = _span(lives[i])[1], _span(lives[j])[1]
        if dj > di and hj < hi - BACKWARDS_H:
            yield (
                life_finding(
                    "hours-backwards",
                    lives[j],
                    column="exit_hours",
                    value=f"{lives[j].exit_h:g}",
                    related=(str(lives[i].origin),),
                    name=lives[j].engine,
                    hj=hj,
                    dj=dj,
                    hi=hi,
                    di=di,
                ),
                j,
            )


def _alike(lives: Sequence[LifeRow]) -> Iterator[Mark]:
    """Yield pairs of failures of ids that differ, which may be one failure reported twice.

    Ids one slip apart share a form with one sign left out, which finds them without comparing
    each with each.
    """
    ill = (*FAILING_ENDINGS, "removed-finding")
    at = [i for i, x in enumerate(lives) if x.count == 1 and x.ending in ill]
    for i, near in sorted(_near_in_hours(lives, at).items()):
        x = lives[i]
        for k in sorted(near):
            if _may_be_one(lives[k], x):
                yield (
                    life_finding(
                        "possible-duplicate",
                        x,
                        column="engine",
                        value=x.engine,
                        related=(str(lives[k].origin),),
                        exit_h=x.exit_h,
                        other=lives[k].engine,
                        other_h=lives[k].exit_h,
                        place=lives[k].origin,
                    ),
                    i,
                )


def _near_in_hours(lives: Sequence[LifeRow], at: Sequence[int]) -> dict[int, set[int]]:
    """Return, for some lives, those before them of ids that may be a slip, at hours alike."""
    hours = np.array([lives[i].exit_h for i in at], dtype=np.float64)
    near: dict[int, set[int]] = {}
    for k, i in slip_candidates([lives[i].engine_id for i in at], MAX_NEIGHBOURS):
        a, b = hours[k], hours[i]
        alike = ~(np.abs(a - b) > HOURS_ALIKE * np.maximum(a, b))
        for one, other in zip(k[alike].tolist(), i[alike].tolist(), strict=True):
            near.setdefault(at[other], set()).add(at[one])
    return near


def _may_be_one(a: LifeRow, b: LifeRow) -> bool:
    """Weigh hours, dates, cause and id; the ids must be near, since many engines fail alike."""
    if a.engine_id == b.engine_id:
        return False
    if abs(a.exit_h - b.exit_h) > HOURS_ALIKE * max(a.exit_h, b.exit_h):
        return False
    if a.ended and b.ended and abs((a.ended - b.ended).days) > DAYS_ALIKE:
        return False
    if cause_known(a.cause) and cause_known(b.cause) and fold(a.cause) != fold(b.cause):
        return False
    if a.build and b.build and fold(a.build) != fold(b.build):
        return False
    known = bool(a.ended and b.ended) + bool(cause_known(a.cause) and cause_known(b.cause))
    return known > 0 and _ids_near(a.engine_id, b.engine_id)


def _ids_near(a: str, b: str) -> bool:
    """Say whether two ids differ by one slip: a sign more or less, changed, or two exchanged."""
    if abs(len(a) - len(b)) > 1 or min(len(a), len(b)) < 3:
        return False
    ops = [o for o in difflib.SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
           if o[0] != "equal"]  # fmt: skip
    if len(a) == len(b):
        differ = [k for k in range(len(a)) if a[k] != b[k]]
        if len(differ) == 2:
            k, m = differ
            return m == k + 1 and a[k] == b[m] and a[m] == b[k]
        return len(differ) == 1
    return len(ops) == 1
