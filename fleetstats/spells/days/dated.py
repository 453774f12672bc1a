"""Lives on two clocks at once: age in hours, and the calendar (the plane of Lexis 1875).

A life is a straight line in the plane of hours and days: the engine is taken to run evenly between
the day of its entry and that of its end. Where a date is missing, the days that the rest of the
record allows are kept as an interval (`spells/days/day_limits.py`), with the likeliest day in it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SpellError
from fleetstats.core.kept import Same, kept
from fleetstats.core.value import Array, Floats, Ints, Value, value
from fleetstats.records.life import LifeRow
from fleetstats.spells.days.day_limits import place_lives
from fleetstats.spells.spells import Spells

SHORTEST_H = 1e-9
"""Hours after a day below which a life is over by then: the rounding of the straight line."""


@value
class Dated(Value):
    """Lives whose days are known, or known to lie between limits. Days are ordinals.

    Parameters
    ----------
    spells : Spells
        The lives, in hours.
    entry_day_low, entry_day_high, exit_day_low, exit_day_high : (n,) float
        Proleptic ordinal days (`datetime.date.toordinal`) between which observation began and
        ended; equal where the date is known.
    row : (n,) int
        Number of each life among the study's spells.
    n_undated : int
        Lives that no date places. They are not in `spells`.
    entry_day, exit_day : (n,) float
        The likeliest days inside those limits, by even use; the middles where not given.

    Raises
    ------
    SpellError
        If columns differ in length, a day lies outside its limits, or a life ends before it began.
    """

    spells: Spells
    entry_day_low: Floats
    entry_day_high: Floats
    exit_day_low: Floats
    exit_day_high: Floats
    row: Ints
    n_undated: int
    entry_day: Floats = field(default_factory=lambda: np.zeros(0))
    exit_day: Floats = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        for end in ("entry_day", "exit_day"):
            low, high = getattr(self, f"{end}_low"), getattr(self, f"{end}_high")
            if len(low) == len(high) and not len(getattr(self, end)):
                middle = 0.5 * (low + high)
                middle.setflags(write=False)
                object.__setattr__(self, end, middle)
        n = len(self.spells)
        for name in ("row", *DAYS):
            if len(getattr(self, name)) != n:
                raise SpellError(
                    f"Dated: '{name}' has {len(getattr(self, name))} rows beside {n} lives.",
                    "Give one for each life.",
                )
        for end in ("entry_day", "exit_day"):
            day = getattr(self, end)
            inside = (getattr(self, f"{end}_low") <= day) & (day <= getattr(self, f"{end}_high"))
            self._refuse(~inside, end, "between its limits")
        self._refuse(~(self.exit_day > self.entry_day), "exit_day", "later than entry_day")

    def _refuse(self, bad: Array, column: str, right: str) -> None:
        if bad.any():
            i = int(np.argmax(bad))
            raise SpellError(
                f"Life {i + 1} of unit '{self.spells.unit[i]}': {column} is "
                f"{getattr(self, column)[i]:g}.",
                f"It must be {right}.",
                index=i,
            )

    @classmethod
    def of(cls, spells: Spells, entry_day: ArrayLike, exit_day: ArrayLike) -> Dated:
        """Return lives whose days (n,) are all known; a single `entry_day` holds for all."""
        n = len(spells)
        entry = np.broadcast_to(np.asarray(entry_day, dtype=np.float64), (n,))
        exit_ = np.asarray(exit_day, dtype=np.float64)
        return cls(
            spells=spells,
            entry_day_low=entry,
            entry_day_high=entry,
            exit_day_low=exit_,
            exit_day_high=exit_,
            row=np.arange(n),
            n_undated=0,
        )

    def __len__(self) -> int:
        return len(self.row)

    def __repr__(self) -> str:
        if not len(self):
            return f"Dated: no lives; {self.n_undated:,} without dates"
        first, last = (dt.date.fromordinal(int(d)) for d in self.span)
        return (
            f"Dated: {self.spells.weight.sum():,.12g} lives from {first} to {last}; "
            f"{self.n_undated:,} without dates"
        )

    @property
    def span(self) -> tuple[float, float]:
        """Return the first and the last day on which any life was at risk.

        Raises
        ------
        SpellError
            If there is no life.
        """
        if not len(self):
            raise SpellError("No life has dates.", "Give the dates of entry and of the last hours.")
        return float(self.entry_day.min()), float(self.exit_day.max())

    @property
    def exactly_dated(self) -> Array:
        """Return (n,) bool: both days are known."""
        known = (self.entry_day_low == self.entry_day_high) & (
            self.exit_day_low == self.exit_day_high
        )
        return np.asarray(known)

    @property
    def hours_per_day(self) -> Array:
        """Return (n,) use of each engine while it was watched."""
        s = self.spells
        return np.asarray((s.exit_upper - s.entry) / (self.exit_day - self.entry_day))

    @property
    def end_h(self) -> Array:
        """Return (n,) hours at which exposure ends; half-way of a failure known by an interval."""
        return np.asarray(0.5 * (self.spells.exit_lower + self.spells.exit_upper))

    @property
    def end_day(self) -> Array:
        """Return (n,) day of `end_h` on the straight line."""
        s = self.spells
        share = (self.end_h - s.entry) / (s.exit_upper - s.entry)
        return np.asarray(self.entry_day + share * (self.exit_day - self.entry_day))

    def age_at(self, day: float | Array) -> Array:
        """Return (n,) hours reached on a day, by even use; before entry its hours, after the end
        those of the end. `day` may be one for each life.
        """
        s = self.spells
        share = (day - self.entry_day) / (self.exit_day - self.entry_day)
        age = s.entry + np.clip(share, 0.0, 1.0) * (s.exit_upper - s.entry)
        return np.asarray(np.where(share >= 1.0, s.exit_upper, age))

    def since(self, day: float) -> Spells:
        """Return the lives as seen from a day on: late entry at the age reached by then.

        Parameters
        ----------
        day : float
            Ordinal day. What happened on it or before does not count.

        Returns
        -------
        Spells
            Lives that ended by then drop out; those that began later are unchanged. A failure
            found at a check after the day, and only known to lie in an interval that begins before
            it, is kept: it may lie before the day, so that the answer is on the safe side.
        """
        age = self.age_at(day)
        keep = self.spells.exit_upper - age > SHORTEST_H
        part, entry = self.spells.select(keep), age[keep]
        if np.array_equal(entry, part.entry):
            return part
        return part.replace(entry=entry, exit_lower=np.maximum(part.exit_lower, entry))

    def select(self, keep: ArrayLike) -> Dated:
        """Return the lives where `keep` (n,) is true, or those rows in order."""
        k = np.asarray(keep)
        return Dated(
            spells=self.spells.select(k),
            row=self.row[k],
            n_undated=self.n_undated,
            **{f: getattr(self, f)[k] for f in DAYS},
        )

    def at_limits(self, *, late: bool) -> Dated:
        """Return the same lives with every open day at its earliest, or at its latest, limit.

        A life whose entry would then not lie before its end keeps its likeliest days.
        """
        side = "high" if late else "low"
        entry, exit_ = getattr(self, f"entry_day_{side}"), getattr(self, f"exit_day_{side}")
        good = exit_ > entry
        return Dated(
            spells=self.spells,
            row=self.row,
            n_undated=self.n_undated,
            **{f: getattr(self, f) for f in DAYS if f not in ("entry_day", "exit_day")},
            entry_day=np.where(good, entry, self.entry_day),
            exit_day=np.where(good, exit_, self.exit_day),
        )


DAYS = (
    "entry_day_low",
    "entry_day_high",
    "exit_day_low",
    "exit_day_high",
    "entry_day",
    "exit_day",
)
"""The columns of days."""


def build_dated(rows: Sequence[LifeRow], spells: Spells, *, until: dt.date | None = None) -> Dated:
    """Put lives on the calendar, once for its rows where these are a tuple.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        The spells.
    until : date, optional
        Analysis date: no day lies after it, and hours carried on reach to it.

    Returns
    -------
    Dated
        Lives with at least one date of their own or of a neighbouring life of the same engine;
        see `spells/days/day_limits.py` for what stands in for a date that is missing.

    Raises
    ------
    SpellError
        If the two have different lengths.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.spells.days.dated import build_dated
    >>> study = fs.read_study("datasets/on-condition")
    >>> records = fs.read_records(study)
    >>> built = fs.build_spells(study, records, fs.audit_records(study, records))
    >>> dated = build_dated(built.rows, built.spells, until=study.settings.study.analysis_date)
    >>> dated.n_undated
    0
    """
    if len(rows) != len(spells):
        raise SpellError(
            f"{len(rows)} rows stand beside {len(spells)} spells.", "Give the row of each spell."
        )
    if not isinstance(rows, tuple):
        return _place(rows, spells, until)
    return kept(spells, ("dated", Same(rows), until), lambda: _place(rows, spells, until))


def place_once(
    rows: Sequence[LifeRow],
    spells: Spells,
    until: dt.date | None,
    *,
    made: Mapping[str, Array] | None = None,
) -> Mapping[str, Array]:
    """Return what `place_lives` does, once for its rows where these are a tuple.

    Parameters
    ----------
    rows, spells, until
        As `build_dated`.
    made : mapping, optional
        What was found for the same rows beside other spells.
    """
    if not isinstance(rows, tuple):  # what may still change cannot be kept
        return place_lives(rows, until)
    key = ("days", Same(rows), until)
    return kept(spells, key, lambda: place_lives(rows, until) if made is None else made)


def _place(rows: Sequence[LifeRow], spells: Spells, until: dt.date | None) -> Dated:
    days = place_once(rows, spells, until)
    placed = np.isfinite(days["entry_day"]) & np.isfinite(days["exit_day"])
    at = np.flatnonzero(placed)
    return Dated(
        spells=spells.select(at),
        row=at,
        n_undated=sum(rows[i].count for i in np.flatnonzero(~placed).tolist()),
        **{f: days[f][at] for f in DAYS},
    )
