"""Lives cut where an engine became another build, so that no build is credited with hours that
it did not run.

Hours before a modification cannot hold a failure of the modified engine: it had to survive to be
modified. Counted to the modified build they make it look better than it is (immortal time;
Suissa 2008, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Value, frozen_array
from fleetstats.records.lives.life import LifeRow
from fleetstats.spells.spells import Event, Spells


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Split(Value):
    """Spells after the cut.

    Parameters
    ----------
    spells : Spells
        Each life modified within its hours is two spells.
    row : (m,) int
        The spell that each came from, for columns kept beside the spells.
    n_cut : int
        Lives that were cut.
    """

    spells: Spells
    row: Array
    n_cut: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "row", frozen_array(self.row, np.int64))


def split_at_modification(spells: Spells, modified_h: ArrayLike, build_after: ArrayLike) -> Split:
    """Cut each spell at the hours at which its engine was modified.

    Parameters
    ----------
    spells : Spells
        Lives; `build` is the standard before modification.
    modified_h : (n,) float
        Hours of the modification on the clock of the spell; NaN where there was none.
    build_after : (n,) str
        The standard after it.

    Returns
    -------
    Split
        Before the hours the spell keeps its build and ends censored; after them it enters there
        as the new build. A spell modified at or before its entry is the new build throughout; one
        modified at or after its end stays as it is. Where a failure is only known to lie in an
        interval that holds the modification, the cut is made at the interval's lower end, since
        the engine was last known good there; that favours neither build by more than the interval.

    Raises
    ------
    SpellError
        If a modification has hours and no build.
    """
    n = len(spells)
    at = np.broadcast_to(np.asarray(modified_h, dtype=np.float64), (n,)).copy()
    after = np.broadcast_to(np.asarray(build_after, dtype=np.str_), (n,))
    has = np.isfinite(at)
    nameless = has & (after == "")
    if nameless.any():
        i = int(np.argmax(nameless))
        raise SpellError(
            f"Spell {i + 1} of unit '{spells.unit[i]}' was modified at {at[i]:g} h to no build.",
            "Name the build standard after the modification.",
        )
    inside = spells.interval_known & has & (spells.exit_lower < at) & (at < spells.exit_upper)
    at[inside] = spells.exit_lower[inside]
    whole_new = has & (at <= spells.entry)
    cut = has & (spells.entry < at) & (at < spells.exit_upper)
    build = np.where(whole_new, after, spells.build)
    rest = spells.replace(entry=np.where(cut, at, spells.entry), build=np.where(cut, after, build))
    first = spells.select(cut)
    m = len(first)
    if m:
        first = first.replace(
            exit_lower=at[cut], exit_upper=at[cut], event=np.full(m, int(Event.CENSORED)),
            cause=np.full(m, ""),
        )  # fmt: skip
    return Split(
        spells=first.join(rest) if m else rest,
        row=np.concatenate([np.flatnonzero(cut), np.arange(n)]),
        n_cut=m,
    )


def split_life(row: LifeRow, modified_h: float, build_after: str) -> tuple[LifeRow, ...]:
    """Return a life cut at the hours (on its own clock) of a modification: one or two lives."""
    if modified_h <= row.entry_h:
        return (replace(row, build=build_after, modified_h=None, build_after=""),)
    if modified_h >= row.exit_h:
        return (replace(row, modified_h=None, build_after=""),)
    good = row.last_good_h
    before = replace(
        row, exit_h=modified_h, modified_h=None, build_after="", ending="modified", cause="",
        confirmed=None, found_at_teardown=None, last_reading=None, ended=None,
        last_good_h=None if good is None else min(good, modified_h),
    )  # fmt: skip
    after = replace(
        row, entry_h=modified_h, build=build_after, modified_h=None, build_after="",
        observed_from=None, last_good_h=good if good is not None and good >= modified_h else None,
    )  # fmt: skip
    return (before, after)


def split_modified(row: LifeRow) -> tuple[LifeRow, ...]:
    """Return a life cut where its row says that the engine was modified; else the life alone."""
    if row.modified_h is None or not row.build_after:
        return (row,)
    return split_life(row, row.modified_h, row.build_after)


def count_immortal_hours(
    spells: Spells, modified_h: ArrayLike, build_after: Sequence[str] | Array
) -> float:
    """Return the hours before modification that an uncut analysis would credit to the new build.

    `spells` are the lives as they stand uncut, with the build that they ended as.
    """
    at = np.asarray(modified_h, dtype=np.float64)
    credited = np.isfinite(at) & (spells.build == np.asarray(build_after)) & (at > spells.entry)
    early = np.minimum(at, spells.exit_upper) - spells.entry
    return float((spells.weight * early)[credited].sum())
