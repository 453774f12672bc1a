"""Record shape "leakdown": differential compression readings, one row to a cylinder and check."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from oracle.old_condition_table import ConditionReading, Line, open_sheet

from fleetstats.core.value import Value
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

_TEMPERATURES = {"hot": "hot", "warm": "hot", "cold": "cold"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
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
    sheet = open_sheet(
        table,
        keys,
        LEAKDOWN_FIELDS,
        numbers=("hours", "reading", "supply", "reference"),
        dates=("date",),
        unit=unit,
    )
    rows: list[LeakRow] = []
    cylinders: dict[str, str] = {}
    by_id: dict[tuple[str, str], int] = {}
    for line in sheet.lines():
        row = _read(line, settings, factor, cylinders)
        if row is None:
            continue
        again = line.text("retest_of")
        if again:
            at = by_id.get((row.engine_id, again))
            if at is None:
                line.fail("retest-unknown", "retest_of", name=again[:30])
                continue
            if rows[at].cylinder != row.cylinder:
                line.fail("retest-other-cylinder", "retest_of", cylinder=rows[at].cylinder)
                continue
            rows[at] = _replaced(rows[at], line.row)
        name = line.text("id")
        if name:
            key = (row.engine_id, name)
            if key in by_id:
                line.fail("reading-id-twice", "id", name=name[:30])
                continue
            by_id[key] = len(rows)
        rows.append(row)
    return sheet.close("leakdown", rows)


def _read(
    line: Line, settings: LeakdownKeys, factor: float, cylinders: dict[str, str]
) -> LeakRow | None:
    line.engine = line.text("engine")
    if not normalise_id(line.engine):
        line.fail("engine-missing", "engine")
    hours = line.hours("hours", "hours at the check", required=True)
    cylinder = line.text("cylinder")
    if not cylinder:
        line.fail("cylinder-missing", "cylinder")
    supply = line.number("supply", "a supply pressure", low=1e-6, high=1e4) or settings.supply
    reading = line.number(
        "reading",
        "a reading",
        high=supply,
        required=True,
        right=f"A reading lies between 0 and the supply of {supply:g} {settings.unit}.",
    )
    reference = line.number("reference", "a reference reading", high=supply)
    temperature = line.word("temperature", _TEMPERATURES, "temperature", required=False)
    if line.broken or hours is None or reading is None:
        return None
    return LeakRow(
        origin=Origin(file=line.sheet.table.file, row=line.row, sheet=line.sheet.table.sheet),
        engine=line.engine,
        hours_h=hours * factor,
        cylinder=cylinders.setdefault(fold(cylinder), cylinder),
        reading=reading,
        supply=supply,
        reference=reference,
        date=line.date(),
        temperature=temperature,
        tester=line.text("tester"),
        leak_path=line.text("leak_path"),
        action=line.text("action"),
    )


def _replaced(row: LeakRow, by: int) -> LeakRow:
    import dataclasses

    return dataclasses.replace(row, replaced_by=by)
