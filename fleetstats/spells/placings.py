"""Fleets with the failures that no spell counts placed at ages that they can have.

A placed failure brings no hours of its own: nobody saw them, and hours made up would be evidence.
Where its engine is named and has a life that did not end in the failure, that life is cut at the
placed age, since what was written of it after that cannot be true as well; of several lives the
longest is cut. Of a table whose rows are not kept a life like that one is cut. A failure of an
engine that is not named, or whose lives all ended in the failure, is one more. An age near zero has
no finite logarithm, so none is below a hundredth of the latest.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import Any

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Own
from fleetstats.spells.event import Event
from fleetstats.spells.left_out import CutLife, LeftOut
from fleetstats.spells.spells import COLUMNS, Spells
from fleetstats.vocabulary.ids import normalise_id

EARLIEST_SHARE = 0.01
"""Least age of a placed failure, as a share of the greatest that it can have."""

POSITIONS = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)
"""Where between the least and the greatest age all are placed at once; beside these, spread."""

MOST_GROUPS = 6
"""Failures that can have the same ages are placed with and without those of other ages; failures
of more different ages are taken together."""

POINT = 1e-6
"""Hours that a placed failure is watched, as a share of its age: next to none."""

MOST_APART = 32
"""Equal failures that are spread one by one; more are spread as so many weights."""

SPREAD = -1.0
"""The position that stands for ages spread evenly."""


def earliest_h(x: LeftOut, oldest_h: float) -> float:
    """Return the least age in hours at which a failure left out is placed."""
    high = latest_h(x, oldest_h)
    return min(max(x.low_h, EARLIEST_SHARE * high), high)


def latest_h(x: LeftOut, oldest_h: float) -> float:
    """Return the greatest age in hours at which it is placed; the oldest seen if none is known."""
    high = max(x.high_h, x.low_h)
    return high if 0.0 < high < float("inf") else max(oldest_h, 1.0)


def ages_left_out(spells: Spells) -> tuple[tuple[float, float, float], ...]:
    """Return the least and the greatest age in hours of each failure left out, and how many."""
    oldest = spells.oldest_h
    return tuple(
        (earliest_h(x, oldest), latest_h(x, oldest), float(x.count)) for x in spells.left_out
    )


def place_left_out(spells: Spells, which: tuple[LeftOut, ...], position: float) -> Spells:
    """Return the spells with the failures `which` placed, and none left out.

    Parameters
    ----------
    spells : Spells
        The fleet without them.
    which : tuple of LeftOut
        What is placed.
    position : float
        0 for the least age that each can have, 1 for the greatest; `SPREAD` for ages spread evenly
        from the one to the other.
    """
    ages = placed_ages(spells, which, position)
    cut = _cut(spells, [(x, float(a[0])) for x, a in zip(which, ages, strict=True)])
    n_of = [len(a) for a in ages]
    if any(n_of):
        points = _points(which, np.concatenate(ages), n_of)
        cut = {name: np.concatenate([cut[name], points[name]]) for name in COLUMNS}
    return _held(cut)


def _held(columns: dict[str, Array]) -> Spells:
    """Return spells of columns that nobody else will change."""
    held: dict[str, Any] = {name: Own(column) for name, column in columns.items()}
    return Spells(**held)


def _points(which: tuple[LeftOut, ...], at: Array, n_of: list[int]) -> dict[str, Array]:
    """Return the columns of placed failures, so many of each at ages `at`, one after the other."""

    def told(held: list[str] | list[float]) -> Array:
        return np.repeat(held, n_of)

    n = len(at)
    return {
        "unit": told([f"left out {i + 1}" for i in range(len(which))]),
        "entry": (1.0 - POINT) * at,
        "exit_lower": at,
        "exit_upper": at,
        "event": np.full(n, int(Event.FAILED), dtype=np.int8),
        "cause": told([x.cause for x in which]),
        "source": told([x.source for x in which]),
        "build": told([x.build for x in which]),
        "weight": told([x.count / max(n, 1) for x, n in zip(which, n_of, strict=True)]),
        "assumed_h": np.zeros(n),
        "clock_sd": np.full(n, np.nan),
        "at_rise_h": np.full(n, np.nan),
        "in_words": np.zeros(n),
    }


def placed_ages(spells: Spells, which: tuple[LeftOut, ...], position: float) -> list[Array]:
    """Return for each of `which` the ages in hours at which it is placed."""
    oldest = spells.oldest_h
    ends = [(earliest_h(x, oldest), latest_h(x, oldest)) for x in which]
    if position != SPREAD:
        return [np.array([low + position * (high - low)]) for low, high in ends]
    n_of = [max(min(x.count, MOST_APART), 1) for x in which]
    shares = (np.arange(sum(n_of)) + 0.5) / max(sum(n_of), 1)
    parts = np.split(shares, np.cumsum(n_of)[:-1])
    return [low + p * (high - low) for (low, high), p in zip(ends, parts, strict=True)]


def as_seen(spells: Spells) -> Spells:
    """Return the lives with no more hours than they have if each failure came at its least age.

    None of the failures left out is in it.
    """
    return _held(_cut(spells, [(x, earliest_h(x, spells.oldest_h)) for x in spells.left_out]))


def every_placing(spells: Spells) -> Iterator[Spells]:
    """Yield the fleets that are tried: all, and the earlier or the later of the failures alone.

    A failure late beside an age speaks for a steeper curve and an early one for a flatter one, so
    that all of them together can look better than some: no failure more may better a bound. The
    earlier ones alone are tried at early ages, where they hurt, and the later ones at late ages.
    """
    done = set()
    for which, positions in _parts(spells.left_out):
        for position in positions:
            ages = placed_ages(spells, which, position)
            key = tuple((id(x), *a.tolist()) for x, a in zip(which, ages, strict=True))
            if key not in done:
                done.add(key)
                yield place_left_out(spells, which, position)


def _parts(
    left_out: tuple[LeftOut, ...],
) -> Iterator[tuple[tuple[LeftOut, ...], tuple[float, ...]]]:
    """Yield which failures are placed together, and at which positions."""
    yield left_out, (*POSITIONS, SPREAD)
    ends = sorted({(x.low_h, x.high_h) for x in left_out})
    groups = [set(g) for g in _in_runs(ends, MOST_GROUPS)]
    for i in range(1, len(groups)):
        first, last = set().union(*groups[:i]), set().union(*groups[i:])
        yield tuple(x for x in left_out if (x.low_h, x.high_h) in first), POSITIONS[:3]
        yield tuple(x for x in left_out if (x.low_h, x.high_h) in last), POSITIONS[-3:]


def _in_runs(ends: list[tuple[float, float]], most: int) -> list[list[tuple[float, float]]]:
    """Cut a rising list into at most `most` runs of about equal length."""
    edges = np.linspace(0, len(ends), min(most, len(ends)) + 1).round().astype(int).tolist()
    return [ends[a:b] for a, b in pairwise(edges)]


def _cut(spells: Spells, at: list[tuple[LeftOut, float]]) -> dict[str, Array]:
    """Return the columns of the spells with the lives of named engines cut at the ages."""
    alike = [(x.life, age) for x, age in at if x.life is not None and not x.engine]
    named = [(x, age) for x, age in at if x.engine]
    if alike:
        spells = _cut_alike(spells, alike)
    columns: dict[str, Array] = {name: getattr(spells, name) for name in COLUMNS}
    if alike or not named:
        return columns
    entry, stop, event = spells.entry, spells.exit_upper.copy(), spells.event.copy()
    lower, weight, rest = spells.exit_lower.copy(), spells.weight.copy(), np.zeros(len(spells))
    keep = np.ones(len(spells), dtype=bool)
    for (x, age), i in zip(named, _lives_cut(spells, [x.engine for x, _ in named]), strict=True):
        if i is None or age >= stop[i]:
            continue
        rest[i] = max(weight[i] - x.count, 0.0)
        weight[i] -= rest[i]
        keep[i] = age > entry[i]
        if keep[i]:
            stop[i] = lower[i] = age
            event[i] = int(Event.CENSORED)
    cut = {"exit_lower": lower, "exit_upper": stop, "event": event, "weight": weight}
    if spells.assumed_h.any():
        cut["assumed_h"] = np.minimum(spells.assumed_h, np.maximum(stop - entry, 0.0))
    whole = {name: column[keep] for name, column in {**columns, **cut}.items()}
    more = rest > 0.0
    if not more.any():
        return whole
    columns["weight"] = rest
    return {name: np.concatenate([whole[name], columns[name][more]]) for name in COLUMNS}


def _lives_cut(spells: Spells, engines: list[str]) -> tuple[int | None, ...]:
    """Return the life that is cut for each failure of the engines named, none for want of one."""

    def sought() -> tuple[int | None, ...]:
        rows = kept(spells, "rows of each engine", lambda: _rows_of(spells))
        run, failed = spells.exit_upper - spells.entry, spells.failed
        out: list[int | None] = []
        for engine in engines:
            own = [i for i in rows.get(normalise_id(engine), ()) if i not in out and not failed[i]]
            out.append(max(own, key=lambda i: float(run[i]), default=None))
        return tuple(out)

    return kept(spells, ("lives cut", *engines), sought)


def _cut_alike(spells: Spells, at: list[tuple[CutLife, float]]) -> Spells:
    """Return the spells with lives like those given cut at the ages, and none left out."""
    wanted = {x.life.key for x in spells.left_out if x.life is not None}
    rows = kept(spells, "rows of each life", lambda: rows_alike(spells, wanted))
    left, cuts = spells.weight.copy(), []
    for life, age in at:
        due = float(life.n) if age < life.upper_h else 0.0
        for i in rows.get(life.key, ()):
            n = min(due, float(left[i]))
            if n > 0.0:
                left[i] -= n
                due -= n
                cuts.append((i, age, n))
    bare = spells.with_left_out(())
    place, at_h, weight = np.array(cuts, dtype=np.float64).reshape(len(cuts), 3).T
    part = bare.select(place.astype(np.int64))
    stays = at_h > part.entry
    some = left > 0.0
    whole = bare.replace(weight=np.where(some, left, 1.0)).select(some)
    if not stays.any():
        return whole
    short = part.replace(weight=weight).select(stays)
    event = np.full(len(short), int(Event.CENSORED), dtype=np.int8)
    return whole.join(short.replace(exit_lower=at_h[stays], exit_upper=at_h[stays], event=event))


def rows_alike(
    spells: Spells, wanted: Collection[tuple[float, float, float, int]]
) -> dict[tuple[float, float, float, int], list[int]]:
    """Return the rows of spells that are alike some lives, by what these have in common."""
    near = np.flatnonzero(np.isin(spells.exit_upper, [key[2] for key in wanted]))
    out: dict[tuple[float, float, float, int], list[int]] = {}
    for i in near.tolist():
        key = (
            float(spells.entry[i]), float(spells.exit_lower[i]), float(spells.exit_upper[i]),
            int(spells.event[i]),
        )  # fmt: skip
        if key in wanted:
            out.setdefault(key, []).append(i)
    return out


def _rows_of(spells: Spells) -> dict[str, list[int]]:
    out: dict[str, list[int]] = {}
    for i, unit in enumerate(spells.unit.tolist()):
        out.setdefault(normalise_id(unit), []).append(i)
    return out
