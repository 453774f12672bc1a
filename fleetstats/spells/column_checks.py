"""What the columns of spells must be, row by row, and the weight of rows past an age."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, is_to_come
from fleetstats.spells.event import Event

ROUNDING = 1.0 + 1e-9
"""How far sums of hours may miss each other by rounding."""

LEAST_WEIGHT, MOST_WEIGHT = 1e-150, 1e150
"""Beyond these the square of a weight comes to nothing or to no number, and sums of them too."""


def each_is_one(weight: Array) -> bool:
    """Return whether every row of `weight` (n,) stands for one life; of no rows none does."""
    if weight.strides == (0,):  # one number that stands for all
        weight = weight[:1]
    return bool(len(weight) and weight.min() == 1.0 == weight.max())


def starts_of_equal(columns: Iterable[Array], order: Array) -> Array:
    """Return the places in `order` (n,) at which rows begin that differ from the row before.

    One column is taken at a time: a table may be very long.
    """
    first = np.zeros(len(order), dtype=np.bool_)
    first[:1] = True
    for column in columns:
        mine = column[order]
        first[1:] |= mine[1:] != mine[:-1]
    return np.flatnonzero(first)


def weight_reaching(ages: Array, weight: Array, hours: Array) -> Array:
    """Return (m,) the weight of `ages` (n,) that are at or past each of `hours` (m,)."""
    if each_is_one(weight):  # bare ages are sorted ten times as fast as an order of rows
        below = np.searchsorted(np.sort(ages), hours, side="left")
        return np.asarray(len(ages) - below, dtype=np.float64)
    order = np.argsort(ages, kind="stable")
    tail = np.concatenate([np.cumsum(weight[order][::-1])[::-1], [0.0]])
    return np.asarray(tail[np.searchsorted(ages[order], hours, side="left")])


def horizon_of(spells: Any, least: float) -> float:
    """Return the greatest hours at which at least `least` lives were at risk; 0 if never."""
    near = 64
    while near < len(spells):  # the lives that end last tell who is at risk at later ages
        last = spells.select(np.argpartition(spells.exit_upper, -near)[-near:])
        ends = np.unique(last.exit_upper)[1:]
        if len(enough := ends[last.at_risk(ends) >= least]):
            return float(enough[-1])
        near *= 8
    enough = (ends := np.unique(spells.exit_upper))[spells.at_risk(ends) >= least]
    return float(enough[-1]) if len(enough) else 0.0


def check_lengths(told: Any, names: tuple[str, ...]) -> None:
    """Refuse columns of `told`, some `Spells`, that differ in length.

    What is still to be made will be made for as many rows.
    """
    n = len(told.entry)
    for name in names:
        if not is_to_come(told, name) and (many := len(getattr(told, name))) != n:
            raise SpellError(
                f"Spells: column '{name}' has {many} rows.",
                f"All columns need {n} rows, as 'entry' has.",
            )


def _nothing_to_see(told: Any, made: Collection[str]) -> bool:
    """Return whether all is right, in one pass a column; NaN fails every comparison here."""
    entry, lower, upper = told.entry, told.exit_lower, told.exit_upper
    return bool(
        not len(entry)
        or (
            entry.min() >= 0.0
            and upper.max() < np.inf
            and (upper > entry).all()
            and (lower is upper or (lower == upper).all() or _between_checks(told))
            and told.event.min() >= min(Event)
            and told.event.max() <= max(Event)
            and (
                each_is_one(told.weight)
                or (told.weight.min() >= LEAST_WEIGHT and told.weight.max() <= MOST_WEIGHT)
            )
            and ("in_words" in made or not told.in_words.any())
            and ("assumed_h" in made or _within_life(told.assumed_h, upper - entry))
            and ("clock_sd" in made or np.isnan(told.clock_sd).all())
        )
    )


def _within_life(assumed: Array, run: Array) -> bool:
    """Return whether no hours are assumed, or none beyond those of a spell."""
    return not assumed.any() or bool(assumed.min() >= 0.0 and (assumed <= run * ROUNDING).all())


def _between_checks(told: Any) -> bool:
    """Return whether each end is one number, or of a failure that lies between two, in order."""
    entry, lower, upper = told.entry, told.exit_lower, told.exit_upper
    one_end = (lower == upper) | ((told.event == Event.FAILED) & (lower < upper))
    return bool((one_end & (lower >= entry)).all())


def check_columns(told: Any, made: Collection[str] = ()) -> None:
    """Refuse spells that cannot be, by their columns of one length; see `Spells`.

    Columns named in `made` were not given and hold what is usual, so that nobody looks at them.

    Raises
    ------
    SpellError
        If hours are not finite, negative or out of order, an event is unknown, a weight is not
        positive or a doubt of a clock no log sd. The message names the unit.
    """
    if _nothing_to_see(told, made):
        return
    entry, lower, upper = told.entry, told.exit_lower, told.exit_upper
    event, weight, assumed = told.event, told.weight, told.assumed_h
    clock_sd = told.clock_sd

    def refuse(bad: Array, column: str, right: str) -> None:
        if bad.any():
            i = int(np.argmax(bad))
            unit, cell = (getattr(told, f)[i] for f in ("unit", column))
            raise SpellError(
                f"Spell {i + 1} of unit '{unit}': {column} is {cell}.",
                f"It must be {right}.",
                index=i,
            )

    refuse(~np.isfinite(entry) | (entry < 0), "entry", "0 or more, finite")
    refuse(
        ~np.isfinite(upper) | (upper <= entry),
        "exit_upper",
        "finite and later than entry",
    )
    refuse(
        ~(lower >= entry) | ~(lower <= upper),
        "exit_lower",
        "between entry and exit_upper",
    )
    refuse(~np.isin(event, [e.value for e in Event]), "event", "0, 1, 2 or 3")
    refuse(
        (event != Event.FAILED) & (lower != upper),
        "exit_lower",
        "equal to exit_upper unless the spell failed",
    )
    refuse(~np.isfinite(weight) | (weight <= 0), "weight", "positive, finite")
    refuse(
        (weight < LEAST_WEIGHT) | (weight > MOST_WEIGHT),
        "weight",
        f"between {LEAST_WEIGHT:g} and {MOST_WEIGHT:g}",
    )
    refuse(
        ~(assumed >= 0) | (assumed > (upper - entry) * ROUNDING),
        "assumed_h",
        "0 or more, and no more than the hours of the spell",
    )
    refuse(~np.isin(told.in_words, (0.0, 1.0)), "in_words", "0 or 1")
    refuse((clock_sd < 0) | np.isinf(clock_sd), "clock_sd", "0 or more, finite, or NaN if not said")


def count_failures(failed: Array, weight: Array) -> float:
    """Return the weighted number of rows (n,) that failed."""
    if each_is_one(weight):
        return float(np.count_nonzero(failed))
    return float(weight[failed].sum())


def count_engines(unit: Array, weight: Array) -> float:
    """Return the number of engines; of the rows (n,) of one that with most equal lives counts."""
    names, place = np.unique(unit, return_inverse=True)
    most = np.zeros(len(names))
    np.maximum.at(most, place.ravel(), weight)
    return float(most.sum())
