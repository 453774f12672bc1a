"""Spells: the lives at risk, as immutable columns.

A spell is open at entry and closed at its end, ``(entry, end]``: a unit is at risk at hours t when
``entry < t <= end``. At equal hours failures happen before censorings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field
from typing import Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.gate import HOURS, HOURS_ANY, gate
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Floats, Own, Texts, Value, as_held, frozen_array, value
from fleetstats.spells.column_checks import (
    check_columns,
    check_lengths,
    count_engines,
    count_failures,
    horizon_of,
    weight_reaching,
)
from fleetstats.spells.event import Event
from fleetstats.spells.given.columns import columns_given
from fleetstats.spells.left_out import LeftOut, those_of

READING_DECIMALS = 9
"""Decimals of hours to which a reading is found again, finer than any meter shows."""

PAIRED = "pair "
"""Head of the names of rows that pair an entry with the end of whichever life: no engine's."""


@value
class Spells(Value):
    """Lives of engines under observation. All hours share one clock and one origin of life.

    Parameters
    ----------
    unit : (n,) str
        Engine that lived the spell; an engine may have several.
    entry : (n,) float
        Hours at which observation began; 0 when followed from the start of life.
    exit_lower, exit_upper : (n,) float
        Hours of the end. Equal but for a failure found at a check, which lies in
        ``(exit_lower, exit_upper]``; a failure known only to lie before `exit_upper` has
        ``exit_lower == entry``.
    event : (n,) int
        An `Event` for each spell.
    cause, source, build : (n,) str
        Labels; empty when unknown.
    weight : (n,) float
        How many equal lives a row stands for; positive.
    in_words : (n,) float
        1 for a failure whose interval was told in words, which quoted edges hold at its worst end;
        0 unless given.
    left_out : tuple of LeftOut
        Failures of the same records that no spell counts. They go with the spells wherever these
        are cut, joined or changed, so that nobody who quotes a bound can forget them.
    assumed_h : (n,) float
        Hours at the end of the spell that nobody read: assumed from the last reading on. 0 unless
        given; a failure ends what was seen, so none is assumed before one.
    clock_sd : (n,) float
        Log standard deviation by which the hours of the engine's clock may be wrong, as stated for
        it or its kind of meter; NaN, unless given, where the study's own doubt holds.
    at_rise_h : (n,) float
        Age from which the spell lies after a rise of the rate that the records show over the
        calendar; infinite where none of it does, NaN, unless given, where no rise is known.

    Raises
    ------
    SpellError
        If hours are not finite, negative or out of order, an event is unknown, or a weight is not
        positive. The message names the unit.

    Examples
    --------
    >>> import fleetstats as fs
    >>> print(fs.Spells.of(entry=[0, 0, 300], exit=[400, 650, 900], failed=[True, False, False]))
    Spells: 3 lives of 3 engines, 1 failed, 1,650 h at risk
    """

    unit: Texts
    entry: Floats
    exit_lower: Floats
    exit_upper: Floats
    event: Array
    cause: Texts
    source: Texts
    build: Texts
    weight: Floats
    assumed_h: Floats = field(default_factory=lambda: np.zeros(0))
    clock_sd: Floats = field(default_factory=lambda: np.zeros(0))
    at_rise_h: Floats = field(default_factory=lambda: np.zeros(0))
    in_words: Floats = field(default_factory=lambda: np.zeros(0))
    left_out: tuple[LeftOut, ...] = ()

    _not_in_dict: ClassVar[tuple[str, ...]] = (
        "assumed_h", "clock_sd", "at_rise_h", "in_words", "left_out",
    )  # fmt: skip
    _later: ClassVar[tuple[str, ...]] = ("unit",)

    def __post_init__(self) -> None:
        n = len(self)
        made: list[str] = []
        for usual, names in ((0.0, ("assumed_h", "in_words")), (np.nan, ("clock_sd", "at_rise_h"))):
            missing = [name for name in names if not len(getattr(self, name))]
            # one number stands for every row, so that a column that nobody gave takes no memory
            column = frozen_array(Own(np.broadcast_to(usual, n))) if missing else None
            for name in missing:
                object.__setattr__(self, name, column)
            made += missing
        object.__setattr__(self, "event", frozen_array(self.event, np.int8))
        check_lengths(self, COLUMNS)
        check_columns(self, made)

    @classmethod
    def of(
        cls,
        entry: ArrayLike,
        exit: ArrayLike,
        failed: ArrayLike,
        *,
        exit_lower: ArrayLike | None = None,
        unit: ArrayLike | None = None,
        cause: ArrayLike | None = None,
        source: ArrayLike | None = None,
        build: ArrayLike | None = None,
        weight: ArrayLike | None = None,
        data: object = None,
    ) -> Spells:
        """Build spells from plain columns in hours, or from a table and the names of its columns.

        Columns are taken by position, without an index. A single value stands for all lives.

        Parameters
        ----------
        entry, exit, exit_lower, unit, cause, source, build, weight
            As in `Spells`; `exit` is the end in hours.
        failed : (n,) bool or Event
            Whether the failure in question ended the life; 1 and 0 are read so, no other number.
        data : DataFrame or mapping, optional
            Table whose columns the other arguments name. One of another library than pandas is
            read where `narwhals` is installed.

        Raises
        ------
        ArgumentError
            If a column cannot be read as what it stands for, or lengths differ.
        SpellError
            If `failed` holds a number that is neither 0 nor 1, or a spell cannot be.

        Examples
        --------
        >>> import fleetstats as fs
        >>> table = {"new_h": [0, 300], "gone_h": [400, 900], "broke": [True, False]}
        >>> print(fs.Spells.of(entry="new_h", exit="gone_h", failed="broke", data=table))
        Spells: 2 lives of 2 engines, 1 failed, 1,000 h at risk
        """
        told = {
            "entry": entry, "exit": exit, "failed": failed, "exit_lower": exit_lower, "unit": unit,
            "cause": cause, "source": source, "build": build, "weight": weight,
        }  # fmt: skip
        return cls(**columns_given(data, told))

    def __len__(self) -> int:
        return len(self.entry)

    def __repr__(self) -> str:
        return (
            f"Spells: {self.weight.sum():,.12g} lives of {self.n_engines:,.12g} engines, "
            f"{self.n_failed:g} failed, {self.exposure_h:,.0f} h at risk"
        )

    @property
    def failed(self) -> Array:
        """Return (n,) bool: ended by the failure in question."""
        return np.asarray(self.event == Event.FAILED)

    @property
    def interval_known(self) -> Array:
        """Return (n,) bool: failed, and only known to lie in ``(exit_lower, exit_upper]``."""
        if self.exit_lower is self.exit_upper:
            return np.zeros(len(self), np.bool_)
        return np.asarray(self.failed & (self.exit_lower < self.exit_upper))

    @property
    def n_engines(self) -> float:
        """Return the number of engines: a row of many equal lives counts them all."""
        return kept(self, "engines", lambda: count_engines(self.unit, self.weight))

    @property
    def n_failed(self) -> float:
        """Return the weighted number of failures in question."""
        return kept(self, "failures", lambda: count_failures(self.failed, self.weight))

    @property
    def exposure_h(self) -> float:
        """Return hours at risk; an interval-known failure counts to the middle of its interval."""
        end = 0.5 * (self.exit_lower + self.exit_upper)
        return float((self.weight * (end - self.entry)).sum())

    @property
    def hours_assumed(self) -> float:
        """Return the hours at risk that nobody read; they are part of `exposure_h`."""
        return float((self.weight * self.assumed_h).sum())

    def as_read(self) -> Spells:
        """Return the spells up to their last readings, without hours that were assumed since."""
        if not self.assumed_h.any():
            return self
        # a reading of 900 h comes back as 900 h, and stays at risk there
        end = np.round(self.exit_upper - self.assumed_h, READING_DECIMALS)
        keep = end > self.entry
        part, end = self.select(keep), end[keep]
        cut = part.assumed_h > 0
        return part.replace(
            exit_lower=np.where(cut, end, part.exit_lower),
            exit_upper=np.where(cut, end, part.exit_upper),
            assumed_h=np.zeros(len(part)),
        )

    @property
    def oldest_h(self) -> float:
        """Return the greatest hours that any spell reached; 0 when there are none."""
        return float(self.exit_upper.max()) if len(self) else 0.0

    @gate(hours=HOURS_ANY)
    def at_risk(self, hours: ArrayLike) -> Array:
        """Return (m,) weighted counts with ``entry < hours <= exit_upper`` for each of `hours`."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        ended = weight_reaching(self.exit_upper, self.weight, t)
        return np.asarray(ended - weight_reaching(self.entry, self.weight, t))

    @property
    def engines_known(self) -> bool:
        """Return whether rows say whose life they are; rows of paired ends do not (`PAIRED`)."""
        return not len(self) or not str(self.unit[0]).startswith(PAIRED)

    @property
    def counts_engines(self) -> bool:
        """Return whether each engine has one life, so that lives counted are engines counted."""
        return self.engines_known and abs(float(self.weight.sum()) - self.n_engines) < 1e-9

    def engines_at_risk(self, hours: float) -> float | None:
        """Return how many engines have a life at risk at `hours`; see `at_risk` for lives.

        None where the rows do not say whose life they are.
        """
        return self.engines_among((self.entry < hours) & (hours <= self.exit_upper))

    def engines_among(self, keep: ArrayLike) -> float | None:
        """Return how many engines the rows `keep` (n, bool) belong to; None where none can tell."""
        if not self.engines_known:
            return None
        part = self.select(keep)
        return part.n_engines if len(part) else 0.0

    def horizon_h(self, *, least: float = 10.0) -> float:
        """Return the greatest hours at which at least `least` lives were at risk; 0 if never."""
        return horizon_of(self, least)

    def select(self, keep: ArrayLike) -> Spells:
        """Return the spells where `keep` (n,) is true (or, for indices, those rows in order).

        Every failure left out stays: whose it is need not be known. See `of_group`.
        """
        k = np.asarray(keep)
        return Spells(**{f: getattr(self, f)[k] for f in COLUMNS}, left_out=self.left_out)

    def of_group(self, column: str, name: str, *, others: bool = False) -> Spells:
        """Return the spells of one label, or all `others`, with the failures left out of theirs.

        Parameters
        ----------
        column : {"unit", "source", "build", "cause"}
            Which label.
        name : str
            The label; blank for spells without one.
        others : bool
            Whether the rest is returned and not the group.

        Returns
        -------
        Spells
            A failure left out without that label, or with one that no spell has, may be of any
            group and so counts for each of them, and for each rest.
        """
        labels = getattr(self, column)
        mine = labels == name
        part = self.select(~mine if others else mine)
        if not self.left_out:
            return part
        known = set(np.unique(labels).tolist())
        return part.with_left_out(those_of(self.left_out, column, name, known, others=others))

    def with_left_out(self, left_out: Iterable[LeftOut]) -> Spells:
        """Return the same spells beside other failures that none of them counts."""
        kept = tuple(left_out)
        columns = {f: as_held(self, f) for f in COLUMNS}
        return self if kept == self.left_out else Spells(**columns, left_out=kept)

    @property
    def n_left_out(self) -> int:
        """Return how many failures of the records no spell counts."""
        return sum(x.count for x in self.left_out)

    def replace(self, **columns: ArrayLike) -> Spells:
        """Return spells with some columns replaced; the result is validated again.

        Where spells are made shorter than their assumed hours, all that is left is assumed.
        """
        told: dict[str, Any] = {f: as_held(self, f) for f in COLUMNS} | columns
        if "assumed_h" not in columns and self.assumed_h.any():
            run = np.subtract(*(columns.get(f, getattr(self, f)) for f in ("exit_upper", "entry")))
            told["assumed_h"] = np.minimum(self.assumed_h, np.maximum(run, 0.0))
        return Spells(**told, left_out=self.left_out)

    def join(self, other: Spells) -> Spells:
        """Return these spells followed by those of `other`.

        A failure left out of both, as of two parts of one fleet, is one.
        """
        more = tuple(x for x in other.left_out if x not in self.left_out)
        return Spells(
            **{f: np.concatenate([getattr(self, f), getattr(other, f)]) for f in COLUMNS},
            left_out=self.left_out + more,
        )

    @gate(hours=HOURS)
    def split_at(self, hours: float) -> Spells:
        """Cut every spell that spans `hours` into two; no estimate changes by it.

        A spell whose failure is only known to lie in an interval that holds `hours` stays whole.
        """
        cut = (self.entry < hours) & (hours < self.exit_upper)
        cut &= ~(self.interval_known & (self.exit_lower < hours))
        first = self.select(cut)
        n = len(first)
        first = first.replace(
            exit_lower=np.full(n, hours),
            exit_upper=np.full(n, hours),
            event=np.zeros(n),
            cause=np.full(n, ""),
            assumed_h=np.maximum(first.assumed_h - (first.exit_upper - hours), 0.0),
        )
        rest = self.replace(
            entry=np.where(cut, hours, self.entry),
            assumed_h=np.where(
                cut, np.minimum(self.assumed_h, self.exit_upper - hours), self.assumed_h
            ),
        )
        return first.join(rest)

    def collapse(self) -> Spells:
        """Merge rows equal in all but unit and weight into one weighted row; exact for all fits."""
        keys = [
            self.entry,
            self.exit_lower,
            self.exit_upper,
            self.event,
            self.assumed_h,
            np.nan_to_num(self.clock_sd, nan=-1.0),
            np.nan_to_num(self.at_rise_h, nan=-1.0),
            self.in_words,
            *(
                np.unique(getattr(self, f), return_inverse=True)[1]
                for f in ("cause", "source", "build")
            ),
        ]
        table = np.column_stack([np.asarray(k, dtype=np.float64) for k in keys])
        _, first, inverse = np.unique(table, axis=0, return_index=True, return_inverse=True)
        weight = np.bincount(inverse.ravel(), weights=self.weight, minlength=len(first))
        return self.select(first).replace(weight=weight)


COLUMNS = (
    "unit",
    "entry",
    "exit_lower",
    "exit_upper",
    "event",
    "cause",
    "source",
    "build",
    "weight",
    "assumed_h",
    "clock_sd",
    "at_rise_h",
    "in_words",
)
"""Column order of spells in tables and files."""
