"""Failures of a table read by chunks that no spell counts, with the lives that they cut short."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.edges import edges_of
from fleetstats.spells.event import EVENT_OF, Event
from fleetstats.spells.left_out import CutLife, LeftOut
from fleetstats.spells.placings import rows_alike
from fleetstats.spells.spells import Spells
from fleetstats.vocabulary.ids import normalise_id

MOST_CUT = 20_000
"""Failures of which the lives of their engines are sought, as many as lives are looked at."""

NOT_SOUGHT = (
    f"lives of the engines of more than {MOST_CUT:,} failures that no life counts: a bound that "
    "counts these failures is kinder than that of the rows read whole"
)
"""What of more failures is not looked for."""

APART = "cut "
"""Before the number of a row of lives that may be cut, which is no engine's name."""


def not_sought(left: Sequence[LeftOut]) -> tuple[str, ...]:
    """Return what is not looked for where there are more failures than lives are sought for."""
    return (NOT_SOUGHT,) if len(left) > MOST_CUT else ()


def names_of(left: Sequence[LeftOut]) -> set[str]:
    """Return the engines, in their form for comparison, of which lives are to be sought."""
    if not_sought(left):
        return set()
    return {normalise_id(x.engine) for x in left} - {""}


def put_together(
    left: Iterable[LeftOut], lives: Iterable[tuple[LifeRow, Ruling]]
) -> tuple[LeftOut, ...]:
    """Return failures, equal ones put together, with the lives that they cut short.

    Of each engine's lives that did not end in the failure the longest is cut, as
    `spells.placings` does where engines are named.
    """
    own: dict[str, list[CutLife]] = {}
    for row, v in lives:
        low, high, _ = edges_of(row, v)
        event = EVENT_OF[v.counts_as]
        if event != Event.FAILED:
            told = CutLife(
                entry_h=row.entry_h, lower_h=low, upper_h=high, event=int(event), n=row.count
            )
            own.setdefault(row.engine_id, []).append(told)
    out: dict[tuple[object, ...], LeftOut] = {}
    for x in left:
        mine = own.get(normalise_id(x.engine), []) if x.engine else []
        life = max(mine, key=lambda m: m.upper_h - m.entry_h, default=None)
        if life is not None:
            mine.remove(life)
            life = replace(life, n=min(life.n, x.count))
        like = None if life is None else life.key
        key = (x.low_h, x.high_h, x.reason, x.cause, x.build, x.source, like)
        known = out.get(key)
        if known is None:
            out[key] = replace(x, life=life)
            continue
        if life is not None and known.life is not None:
            life = replace(life, n=life.n + known.life.n)
        out[key] = replace(known, count=known.count + x.count, life=life)
    return tuple(out.values())


def part_cut(spells: Spells, left: Iterable[LeftOut]) -> tuple[Spells, Spells | None]:
    """Return the spells without the lives that failures left out cut, and these by themselves.

    Parameters
    ----------
    spells : Spells
        Equal lives put together.
    left : iterable of LeftOut
        Whose lives are to stay as they are when others are paired anew.
    """
    due: dict[tuple[float, float, float, int], int] = {}
    for x in left:
        if x.life is not None:
            due[x.life.key] = due.get(x.life.key, 0) + x.life.n
    if not due:
        return spells, None
    taken = np.zeros(len(spells))
    for key, rows in rows_alike(spells, due).items():
        for i in rows:
            n = min(due[key], int(spells.weight[i]))
            taken[i] = n
            due[key] -= n
    mine, rest = taken > 0.0, spells.weight - taken
    if not mine.any() or not (rest > 0.0).any():
        return spells, None
    apart = spells.replace(weight=np.where(mine, taken, 1.0)).select(mine)
    names = np.array([f"{APART}{i}" for i in range(len(apart))])
    others = spells.replace(weight=np.where(rest > 0.0, rest, 1.0)).select(rest > 0.0)
    return others, apart.replace(unit=names)
