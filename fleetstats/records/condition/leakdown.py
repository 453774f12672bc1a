"""Record shape "leakdown": differential compression readings, one row to a cylinder and check."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.records.condition.condition_table import (
    CHECK_HOURS,
    ConditionReading,
    Sheet,
    condition_number,
    condition_texts,
    open_sheet,
)
from fleetstats.records.rows.meaning import Meaning
from fleetstats.records.rows.reader import fill
from fleetstats.records.rows.row import RowInHand
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

_TEMPERATURES = {"hot": "hot", "warm": "hot", "cold": "cold"}


@value
class LeakRow(Value):
    """One reading of one cylinder. Pressures are in the study's unit.

    `replaced_by` holds the row of the retest that replaces this reading, else None.
    """

    origin: Origin
    engine: str
    hours_h: float
    cylinder: str
    reading: float
    supply: float
    reference: float | None = None
    date: dt.date | None = None
    temperature: str = ""
    tester: str = ""
    leak_path: str = ""
    action: str = ""
    replaced_by: int | None = None

    @property
    def engine_id(self) -> str:
        """Return the engine's id in the form in which engines are compared."""
        return normalise_id(self.engine)


def read_leakdown(
    table: RawTable,
    keys: RecordKeys,
    settings: LeakdownKeys,
    *,
    factor: float = 1.0,
    unit: str = "h",
) -> ConditionReading:
    """Turn the rows of a table into leak-down readings.

    A retest replaces the reading that it names; both rows are kept and counted.

    Parameters
    ----------
    table : RawTable
        The file as read.
    keys : RecordKeys
        The file's description in the study file.
    settings : LeakdownKeys
        Supply pressure for rows that name none.
    factor : float
        Turns hours of the file's meter into hours of the study's clock.
    unit : {"h", "min"}
        Unit of the file's hours.

    Returns
    -------
    ConditionReading
        Its rows are `LeakRow`.
    """
    sheet = open_sheet(table, keys, LEAKDOWN_FIELDS, leakdown_cells(settings), unit=unit)
    cylinders: dict[str, str] = {}
    lines: list[Line] = []
    for row, told in sheet.lines():
        made = None if row.broken else _reading(sheet, row, told, factor, cylinders)
        lines.append((row, told, made))
    replaced = _retests(lines)
    for row, _, made in lines:
        if made is not None:
            made = replace(made, replaced_by=replaced.get(row.row.row))
        sheet.account.take(row, made)
    return sheet.close("leakdown")


def leakdown_cells(settings: LeakdownKeys) -> tuple[Meaning, ...]:
    """Return what the cells of shape "leakdown" mean; a reading lies below the supply."""
    right = f"A reading lies between 0 and the supply of {{most:g}} {settings.unit}."
    return (
        Meaning("engine", "engine", missing="engine-missing"),
        CHECK_HOURS,
        Meaning("cylinder", "text", blank="", missing="cylinder-missing"),
        condition_number(
            "supply", "a supply pressure", blank=settings.supply, least=1e-6, most=1e4
        ),
        condition_number(
            "reading", "a reading", most="supply", missing="reading-missing", right=right
        ),
        condition_number("reference", "a reference reading", most="supply"),
        Meaning(
            "temperature",
            "word",
            what="temperature",
            words=_TEMPERATURES,
            blank="",
            unreadable="temperature-unknown",
        ),
        *condition_texts("tester", "leak_path", "action", "id", "retest_of"),
        Meaning("date", "date", soft=True),
    )


Line = tuple[RowInHand, dict[str, Any], LeakRow | None]
"""A row, what its cells tell, and the reading made of it."""


def _retests(lines: list[Line]) -> dict[int, int]:
    """Return the row of the retest that replaces each row which one names.

    Rows may stand in any order. One whose retest names no reading of the file, a reading that was
    set aside, one of another cylinder, or in the end itself, is found fault with.
    """
    first: dict[tuple[str, str], Line] = {}
    for line in lines:
        row, told, made = line
        if made is None or not told["id"]:
            continue
        if first.setdefault((made.engine_id, told["id"]), line) is not line:
            row.add("reading-id-twice", "id", name=told["id"][:30])
    named: dict[int, Line] = {}
    for row, told, made in lines:
        if made is None or row.broken or not told["retest_of"]:
            continue
        target = first.get((made.engine_id, told["retest_of"]))
        if target is not None and target[2] is not None and target[2].cylinder != made.cylinder:
            row.add("retest-other-cylinder", "retest_of", cylinder=target[2].cylinder)
        elif target is not None:
            named[row.row.row] = target
        else:
            row.add("retest-unknown", "retest_of", name=told["retest_of"][:30])
    return _sound(lines, named)


def _sound(lines: list[Line], named: dict[int, Line]) -> dict[int, int]:
    """Return the retests that lead to a reading in use, and find fault with the others."""
    replaced = {}
    for row, told, _ in lines:
        if row.row.row not in named:
            continue
        seen, at = {row.row.row}, named[row.row.row][0]
        while not at.broken and at.row.row in named and at.row.row not in seen:
            seen.add(at.row.row)
            at = named[at.row.row][0]
        if at.broken or at.row.row in seen:
            row.add("retest-unknown", "retest_of", name=told["retest_of"][:30])
        else:
            replaced[named[row.row.row][0].row.row] = row.row.row
    return replaced


def _reading(
    sheet: Sheet, row: RowInHand, told: dict[str, Any], factor: float, cylinders: dict[str, str]
) -> LeakRow:
    sheet.reader.read_soft(row, told)
    cylinder = told["cylinder"]
    return fill(
        LeakRow,
        told,
        origin=sheet.origin(row),
        hours_h=told["hours"] * factor,
        cylinder=cylinders.setdefault(fold(cylinder), cylinder),
    )
