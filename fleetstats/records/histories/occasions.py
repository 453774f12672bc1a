"""What one row tells: each happening with its number, hours, date and the cells that tell of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.hours import in_hours
from fleetstats.records.rows.meaning import Ways
from fleetstats.records.rows.row import RowInHand
from fleetstats.records.trouble.scan import PLAIN_NO
from fleetstats.tables.cells import CellError, is_blank, parse_date, text
from fleetstats.tables.history_columns import HistoryColumns
from fleetstats.vocabulary.fold import fold

ENTRY, NOW = "entry", "now"
LEAVING = ("failed", "removed", "prop strike", "retired")
"""Happenings that take an engine out of service."""

RANKS = {ENTRY: 0, "check": 1, "failed": 2, "removed": 3, "prop strike": 3, "meter changed": 4,
         "back": 6, NOW: 7, "retired": 8}  # fmt: skip
LABELS = {ENTRY: "the entry", "back": "back in service", NOW: "hours now"}
REPAIR_RANK = 5
"""The order of what happens at the same hours; a repair follows what led to it."""


@dataclass(slots=True)
class Occasion:
    """One thing that happened to an engine.

    `hours` are as the meter showed them, None where blank or unreadable; `names` are our columns
    by what they tell, and `cells` what stands there.
    """

    happening: str
    number: int = 1
    hours: float | None = None
    date: dt.date | None = None
    names: dict[str, str] = field(default_factory=dict)
    cells: dict[str, Any] = field(default_factory=dict)

    @property
    def rank(self) -> int:
        """Return its place among what happens at the same hours."""
        return RANKS.get(self.happening, REPAIR_RANK)

    @property
    def label(self) -> str:
        """Return what it is called in a finding."""
        return LABELS.get(self.happening, self.happening)

    @property
    def column(self) -> str:
        """Return our name of the column of its hours, else of whatever tells of it."""
        return self.names.get("hours") or next(iter(self.names.values()), "")

    @property
    def new_reading_h(self) -> float | None:
        """Return what a new meter is told to show; None where it is not told."""
        value = self.cells.get("reading_h")
        return value if isinstance(value, float) else None


def find_occasions(
    row: RowInHand,
    columns: HistoryColumns,
    ways: Ways,
    *,
    ends: bool = False,
    all_told: bool = False,
) -> list[Occasion]:
    """Return what happened by the columns of a row, in the order of the columns.

    Something told of what has no hours goes to the row as a finding; a return alone needs none, as
    the hours of an engine stand still while it is out. `all_told` asks for whatever has a cell,
    its hours told or not; `ends` says that the status tells of an end, which a cause without
    hours may belong to.
    """
    found: dict[tuple[str, int], Occasion] = {}
    for head in columns.heads:
        o = found.setdefault((head.happening, head.number), Occasion(head.happening, head.number))
        o.names[head.told] = head.name
        o.cells[head.told] = filled(row.cell(head.name))
    out = []
    for o in found.values():
        o.hours = hours_of(o.cells.get("hours"), ways)
        o.date = date_of(o.cells.get("date"), ways)
        reading = hours_of(o.cells.get("reading"), ways)
        if reading is not None:
            o.cells["reading_h"] = reading
        told = any(c is not None for c in o.cells.values())
        back = o.happening == "back" and o.date is not None
        if o.cells.get("hours") is not None or back or (all_told and told):
            out.append(o)
            continue
        if not (ends and o.happening == "failed" and o.date is None):
            _tell_without_hours(row, o)
    return out


def _tell_without_hours(row: RowInHand, o: Occasion) -> None:
    told = next((t for t in o.names if t != "hours" and o.cells.get(t) is not None), "")
    if told:
        case = "" if told == "date" else "/told"
        row.add(f"history-hours-missing{case}", o.names[told], what=o.label,
                word=row.text(o.names[told])[:40])  # fmt: skip


def filled(cell: Any) -> Any:
    """Return a cell, or None where it says that nothing happened: blank, "no", "0"."""
    if is_blank(cell) or cell is False or fold(text(cell)) in PLAIN_NO:
        return None
    return cell


def hours_of(cell: Any, ways: Ways) -> float | None:
    """Return hours for the order of things; what cannot be read is told by the reader of logs."""
    try:
        return None if cell is None else in_hours(cell, ways.decimal, ways.unit)
    except CellError:
        return None


def date_of(cell: Any, ways: Ways) -> dt.date | None:
    """Return a date for the order of things, or None."""
    try:
        return None if is_blank(cell) else parse_date(cell, ways.day_first)
    except CellError:
        return None


def cells_by_log(o: Occasion, names: Mapping[str, str]) -> dict[str, Any]:
    """Return the cells of an occasion by the columns of a log, such as date, cause, confirmed."""
    return {ours: o.cells[told] for told, ours in names.items() if o.cells.get(told) is not None}
