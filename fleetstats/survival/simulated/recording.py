"""What becomes of lives on their way into the records: failures not told, hours rounded."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells

LOST = 0.2
"""Share of failures that are not told as such."""

ROUNDED_H = 50.0

OVERLOOKED = 0.3
"""Chance that a check overlooks a fault that is there."""


@value
class Made(Value):
    """Lives as they went.

    Parameters
    ----------
    entry, lower, upper : (n,) float
        Hours at entry, last known good, and at the end.
    failed : (n,) bool
    row : (n,) int
        Row of the design.
    """

    entry: Array
    lower: Array
    upper: Array
    failed: Array
    row: Array

    def select(self, keep: Array) -> Made:
        """Return some of the lives."""
        return Made(**{f: getattr(self, f)[keep] for f in MADE})

    def spells(self, design: Spells) -> Spells:
        """Return spells with the labels of the design; failures in question are the only events."""
        return design.select(self.row).replace(
            entry=self.entry,
            exit_lower=self.lower,
            exit_upper=self.upper,
            event=np.where(self.failed, Event.FAILED, Event.CENSORED).astype(np.int8),
        )


MADE = ("entry", "lower", "upper", "failed", "row")

Recording = Callable[[Made, np.random.Generator], Made]


def as_told(made: Made, rng: np.random.Generator) -> Made:
    """Return the lives as they went."""
    del rng
    return made


def unreported(made: Made, rng: np.random.Generator) -> Made:
    """Leave a fifth of the failed lives out of the records altogether."""
    gone = made.failed & (rng.random(len(made.failed)) < LOST)
    return made.select(~gone)


def as_removals(made: Made, rng: np.random.Generator) -> Made:
    """Write a fifth of the failures down as engines taken off at those hours without one."""
    recoded = made.failed & (rng.random(len(made.failed)) < LOST)
    return Made(
        entry=made.entry,
        lower=np.where(recoded, made.upper, made.lower),
        upper=made.upper,
        failed=made.failed & ~recoded,
        row=made.row,
    )


def rounded(made: Made, rng: np.random.Generator) -> Made:
    """Round the hours of ends, exact ones, to the nearest 50 that lies past entry."""
    del rng
    near = ROUNDED_H * np.round(made.upper / ROUNDED_H)
    exact = (made.lower == made.upper) & (near > made.entry)
    return Made(
        entry=made.entry,
        lower=np.where(exact, near, made.lower),
        upper=np.where(exact, near, made.upper),
        failed=made.failed,
        row=made.row,
    )
