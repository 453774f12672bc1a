"""What is told of an engine in words, and from which hours on: use, fuel, climate, operator.

A value holds from the hours at which it was told until another is. The first one told holds from
the start of the life, as a build standard does: records begin to say what an engine does long
after it began to do it. Where a change is told by the event that ends a life, it came between the
event before and the end, and counts from the event before: a failure is never counted under what
the engine had ceased to do.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fleetstats.records.hours import in_hours
from fleetstats.tables.cells import CellError

Told = Mapping[str, tuple[tuple[float, str], ...]]
"""By column: hours on the life's clock, rising, and the word that holds from there."""

_FROM = re.compile(r"^(?P<word>.+?)\s+from\s+(?P<hours>[\d.,' ]+?)\s*h?$", re.IGNORECASE)


def value_at(told: Told, column: str, hours: float) -> str:
    """Return the word that holds just after `hours`; empty where the column tells none."""
    values = told.get(column, ())
    word = values[0][1] if values else ""
    for start, then in values:
        if start <= hours:
            word = then
    return word


def moved(told: Told, *, by: float = 1.0, less: float = 0.0) -> dict[str, Any]:
    """Return values with their hours multiplied by `by` and then `less` hours taken off."""
    return {c: tuple((h * by - less, w) for h, w in values) for c, values in told.items()}


def from_hours(told: Told, hours: float) -> dict[str, Any]:
    """Return what holds from `hours` on: the word that holds there, and the later ones."""
    return {
        c: ((hours, value_at(told, c, hours)), *((h, w) for h, w in values if h > hours))
        for c, values in told.items()
        if values
    }


def read_told(cell: str, entry_h: float, decimal: str, unit: str) -> tuple[tuple[float, str], ...]:
    """Return what a cell of a life tells: a word, or words with the hours of each change.

    ``towing`` holds throughout; ``towing; school from 640`` changes at 640 h.

    A cell that tells no such change, as ``towing; school``, is one word, which nobody knows.
    """
    first, *later = (part.strip() for part in cell.split(";"))
    if not later:
        return ((entry_h, first),) if first else ()
    out = [(entry_h, first)]
    for part in later:
        found = _FROM.match(part)
        try:
            hours = None if found is None else in_hours(found["hours"], decimal, unit)
        except CellError:
            hours = None
        if not first or found is None or hours is None or hours <= out[-1][0]:
            return ((entry_h, cell),)
        out.append((hours, found["word"]))
    return tuple(out)


def write_told(values: tuple[tuple[float, str], ...], add_h: float = 0.0) -> str:
    """Return values as a cell that `read_told` reads, with `add_h` hours added to each change."""
    if not values:
        return ""
    rest = [f"{w} from {h + add_h!r}" for h, w in values[1:]]
    return "; ".join((values[0][1], *rest))
