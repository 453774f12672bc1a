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

import numpy as np

from fleetstats.core.kept import kept
from fleetstats.core.value import Array
from fleetstats.spells.event import Event
from fleetstats.spells.left_out import CutLife, LeftOut
from fleetstats.spells.spells import Spells
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
    at = np.concatenate(ages)
    n_of = [len(a) for a in ages]
    if not len(at):
        return cut

    def told(name: str) -> Array:
        return np.repeat(np.array([getattr(x, name) for x in which]), n_of)

    weight = np.repeat([x.count / n for x, n in zip(which, n_of, strict=True)], n_of)
    names = np.array([f"left out {i + 1}" for i in range(len(which))])
    points = Spells.of(
        (1.0 - POINT) * at,
        at,
        np.ones(len(at)),
        unit=np.repeat(names, n_of),
        cause=told("cause"),
        source=told("source"),
        build=told("build"),
        weight=weight,
    )
    return cut.join(points)


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
    at = [(x, earliest_h(x, spells.oldest_h)) for x in spells.left_out]
    return _cut(spells, at)


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


def _cut(spells: Spells, at: list[tuple[LeftOut, float]]) -> Spells:
    """Return the spells with the lives of named engines cut at the ages, and none left out."""
    bare = spells.with_left_out(())
    alike = [(x.life, age) for x, age in at if x.life is not None and not x.engine]
    if alike:
        return _cut_alike(spells, alike)
    named = [(x, age) for x, age in at if x.engine]
    if not named:
        return bare
    rows = kept(spells, "rows of each engine", lambda: _rows_of(spells))
    stop, event, weight = bare.exit_upper.copy(), bare.event.copy(), bare.weight.copy()
    lower, keep = bare.exit_lower.copy(), np.ones(len(bare), dtype=bool)
    rest = np.zeros(len(bare))
    taken: set[int] = set()
    for x, age in named:
        own = [i for i in rows.get(normalise_id(x.engine), ())
               if i not in taken and event[i] != Event.FAILED]  # fmt: skip
        if not own:
            continue
        i = max(own, key=lambda j: float(spells.exit_upper[j] - spells.entry[j]))
        taken.add(i)
        if age >= stop[i]:
            continue
        rest[i] = max(weight[i] - x.count, 0.0)
        weight[i] -= rest[i]
        keep[i] = age > bare.entry[i]
        if keep[i]:
            stop[i] = lower[i] = age
            event[i] = int(Event.CENSORED)
    whole = bare.replace(exit_lower=lower, exit_upper=stop, event=event, weight=weight).select(keep)
    more = rest > 0.0
    return whole.join(bare.replace(weight=np.where(more, rest, 1.0)).select(more))


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
