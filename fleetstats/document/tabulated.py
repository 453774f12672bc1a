"""Answers worked out beforehand on a grid, so that a page can answer back without computing.

A `Tabulated` holds *knobs* (what a reader may turn) and *readings* (what then follows), each
reading as a table over some of the knobs. The page only looks up and interpolates; no statistics
are done there. `look_up` is the same rule in Python, and a test holds both to it.

What fills it: for each knob its values and where the study stands (`start`); for each reading one
number per combination of its knobs, last knob fastest, NaN where there is no answer.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Array, Floats, Value, frozen_array, value

PARTS = ("low", "estimate", "high", "word")
"""What a reading is within its row: pessimistic edge, best estimate, optimistic edge, verdict."""


@value
class Knob(Value):
    """Something a reader may set.

    Parameters
    ----------
    key, label : str
        Stable name, such as ``"claim_h"``; words for the reader.
    kind : str
        hours, percent (of a share in 0 to 1), number or count: how it is written.
    values : (k,) float
        Rising; at least one.
    start : float
        Where the study stands; one of `values`.
    free : bool
        May be set between the values; readings are then interpolated along it.
    """

    key: str
    label: str
    kind: str
    values: Floats
    start: float
    free: bool = False
    help: str = ""

    def __post_init__(self) -> None:
        if not len(self.values) or not np.all(np.isfinite(self.values)):
            raise ReportError(f"Tabulated: knob '{self.key}' needs finite values.")
        if np.any(np.diff(self.values) <= 0):
            raise ReportError(f"Tabulated: values of knob '{self.key}' must rise.")
        if self.start not in self.values:
            raise ReportError(
                f"Tabulated: knob '{self.key}' starts at {self.start:g}, not on its grid."
            )


@value
class Readout(Value):
    """What follows from the knobs: one number of one row of the answer.

    Parameters
    ----------
    row : str
        Row of the answer, such as ``"Reliability at the claimed hours"``.
    part : str
        One of `PARTS`: which column of the row.
    kind : str
        hours, percent, number, count; for the part ``"word"`` it is ``"word"``.
    axes : tuple of str
        Keys of the knobs on which it depends, in order.
    values : (product of the knobs' lengths,) float
        Last knob fastest. NaN: no answer there. For words: index into `words`.
    words : tuple of str
        From best to worst; between two grid points the worse one is shown.
    none : str
        What to say where there is no answer.
    beyond : (same length,) bool or None
        True where the answer is extrapolation.
    round_to : float
        Hours are rounded to this step (down for low edges); 0 leaves them.
    beside : tuple of float
        Limits that decide something: a number is written so that its side of them shows.
    """

    row: str
    part: str
    kind: str
    axes: tuple[str, ...]
    values: Floats
    words: tuple[str, ...] = ()
    none: str = "no answer from these data"
    beyond: Array | None = None
    round_to: float = 0.0
    beside: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.beyond is not None:
            object.__setattr__(self, "beyond", frozen_array(self.beyond, np.bool_))
            if len(self.beyond) != len(self.values):
                raise ReportError(f"Tabulated: 'beyond' of '{self.row}' differs in length.")
        if self.part not in PARTS:
            raise ReportError(f"Tabulated: part '{self.part}' of '{self.row}'.", f"Use {PARTS}.")
        if self.part == "word":
            v = self.values[np.isfinite(self.values)]
            if np.any((v < 0) | (v >= len(self.words)) | (v != np.round(v))):
                raise ReportError(f"Tabulated: a word of '{self.row}' is out of range.")


@value
class Tabulated(Value):
    """Knobs and readings; `note` says once what the page does and does not do."""

    knobs: tuple[Knob, ...]
    readings: tuple[Readout, ...]
    note: str = (
        "The answers below were worked out with the report, on a grid of settings. Between grid "
        "points the page interpolates; it does not fit anything anew."
    )

    def __post_init__(self) -> None:
        sizes = {k.key: len(k.values) for k in self.knobs}
        if len(sizes) != len(self.knobs):
            raise ReportError("Tabulated: two knobs share a key.")
        for r in self.readings:
            for a in r.axes:
                if a not in sizes:
                    raise ReportError(f"Tabulated: '{r.row}' depends on unknown knob '{a}'.")
            n = math.prod(sizes[a] for a in r.axes)
            if len(r.values) != n:
                raise ReportError(
                    f"Tabulated: '{r.row}' ({r.part}) has {len(r.values)} values.",
                    f"Its knobs make {n} combinations.",
                )

    def look_up(self, reading: Readout, **at: float) -> tuple[float | str | None, bool]:
        """Return a reading at some settings, and whether it is extrapolation.

        Settings not given stand at their start. Free knobs interpolate linearly; others take
        their nearest value. A missing corner gives None.
        """
        corners = self._corners(reading, at)
        beyond = reading.beyond is not None and any(reading.beyond[i] for i, _ in corners)
        values = [float(reading.values[i]) for i, _ in corners]
        if any(math.isnan(v) for v in values):
            return None, beyond
        if reading.part == "word":
            return reading.words[int(max(values))], beyond
        return float(sum(v * w for v, (_, w) in zip(values, corners, strict=True))), beyond

    def _corners(self, reading: Readout, at: dict[str, float]) -> list[tuple[int, float]]:
        """Return the flat positions that surround the settings, with their weights above zero."""
        by_key = {k.key: k for k in self.knobs}
        sides: list[list[tuple[int, float]]] = []
        for a in reading.axes:
            k = by_key[a]
            x = float(np.clip(at.get(a, k.start), k.values[0], k.values[-1]))
            j = int(np.searchsorted(k.values, x, side="right")) - 1
            j = min(max(j, 0), len(k.values) - 1)
            if not k.free or j == len(k.values) - 1 or x == k.values[j]:
                sides.append([(int(np.argmin(np.abs(k.values - x))), 1.0)])
            else:
                w = (x - k.values[j]) / (k.values[j + 1] - k.values[j])
                sides.append([(j, 1.0 - float(w)), (j + 1, float(w))])
        sizes = [len(by_key[a].values) for a in reading.axes]
        out = []
        for pick in itertools.product(*sides):
            flat, weight = 0, 1.0
            for (j, w), size in zip(pick, sizes, strict=True):
                flat = flat * size + j
                weight *= w
            out.append((flat, weight))
        return out
