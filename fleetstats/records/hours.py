"""One cell of a column of hours to hours: the unit of the study file, and what no engine can have.

Every reader comes here, row by row or by whole columns, so that a limit in hours is held against
hours and never against minutes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

from fleetstats.core.value import Array
from fleetstats.tables.cells import names_its_unit, parse_number
from fleetstats.tables.doubt import FigureDoubt, read_figure_doubt

MAX_HOURS = 100_000.0
"""No piston engine reaches these hours; more is a slip of the pen or of the unit (common practice,
no source)."""

PER_HOUR = {"h": 1.0, "min": 60.0}
"""How many of each unit of ``[hours]`` one hour has."""

Figures = TypeVar("Figures", float, Array)


def to_hours(figures: Figures, unit: str) -> Figures:
    """Return figures of a column of hours in hours; `unit` is that of ``[hours]``."""
    return figures / PER_HOUR[unit]


def in_hours(
    cell: Any, decimal: str, unit: str, *, what: str = "a number of hours"
) -> float | None:
    """Return a cell in hours, or None when it is blank; no limit is held against it yet.

    A plain number is in the study's unit. Hours and minutes, durations and numbers with their unit
    behind them, "812 h", are hours in every study.

    Parameters
    ----------
    cell : Any
        As the table holds it.
    decimal : str
        Decimal mark of the file, or ``"mixed"``.
    unit : {"h", "min"}
        Unit of the plain numbers.
    what : str
        What the number is, as sentences call it.

    Raises
    ------
    CellError
        If it is no number.
    """
    figure = parse_number(cell, decimal, what=what)
    if figure is None or names_its_unit(cell):
        return figure
    return to_hours(figure, unit)


def doubt_in_hours(cell: Any, decimal: str, unit: str) -> FigureDoubt | None:
    """Return what a cell tells of its hours in words, or None where that is not understood.

    As with numbers, words without a unit of their own are in the study's.
    """
    doubt = read_figure_doubt(cell, decimal)
    if doubt is None or doubt.in_hours:
        return doubt
    low, high = to_hours(doubt.low, unit), to_hours(doubt.high, unit)
    return replace(doubt, low=low, high=high, in_hours=True)
