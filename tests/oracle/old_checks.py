"""Record shape "checks": what was looked at, at which hours, and what was found."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from oracle.old_condition_table import ConditionReading, open_sheet

from fleetstats.core.value import Value
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

GRADES = ("none", "fuzz", "paste", "slivers", "chips")
"""Metal on the plug, in order: 0 none, 1 fuzz, 2 paste, 3 slivers, 4 chips (trade practice)."""

_RESULTS = {
    "clean": "clean", "ok": "clean", "nothing found": "clean", "pass": "clean", "passed": "clean",
    "negative": "clean", "no finding": "clean", "good": "clean",
    "found": "found", "fault": "found", "fault found": "found", "fail": "found",
    "failed": "found", "positive": "found", "finding": "found", "rejected": "found",
    "doubtful": "doubtful", "watch": "doubtful", "suspect": "doubtful", "monitor": "doubtful",
}  # fmt: skip
_METHODS = {
    "plug": "plug", "chip plug": "plug", "magnetic plug": "plug", "mag plug": "plug",
    "leak down": "leak-down", "leakdown": "leak-down", "differential compression": "leak-down",
    "compression": "leak-down", "oil": "oil", "oil analysis": "oil", "oil use": "oil use",
    "oil consumption": "oil use", "borescope": "borescope", "boroscope": "borescope",
    "filter": "filter", "oil filter": "filter", "visual": "visual",
}  # fmt: skip
_GRADES = {g: i for i, g in enumerate(GRADES)} | {
    "fine fuzz": 1, "grey paste": 2, "sliver": 3, "flakes": 3, "chip": 4,
}  # fmt: skip
NOT_MENDED = ("monitor", "none", "no action", "deferred", "watch")
"""Actions after which a found fault is still there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CheckRow(Value):
    """One check of one engine.

    `result` is clean, found, doubtful or empty (a mere reading); `grade` is 0 to 4; `hours_h` and
    `oil_hours_h` are in hours of the study's clock, counted as the life records count.
    """

    origin: Origin
    engine: str
    hours_h: float
    result: str = ""
    method: str = ""
    mode: str = ""
    date: dt.date | None = None
    grade: int | None = None
    value: float | None = None
    oil_hours_h: float | None = None
    action: str = ""
    note: str = ""

    @property
    def engine_id(self) -> str:
        """Return the engine's id in the form in which engines are compared."""
        return normalise_id(self.engine)

    @property
    def mended(self) -> bool:
        """Return whether a fault found here was mended; so taken unless the row says no."""
        return fold(self.action) not in NOT_MENDED


def read_checks(
    table: RawTable,
    keys: RecordKeys,
    *,
    causes: tuple[str, ...] = (),
    factor: float = 1.0,
    unit: str = "h",
) -> ConditionReading:
    """Turn the rows of a table into checks.

    Parameters
    ----------
    table : RawTable
        The file as read.
    keys : RecordKeys
        The file's description in the study file; its `causes` map the file's words to the study's.
    causes : tuple of str
        Causes that the study knows, in the spelling that is to stand.
    factor : float
        Turns hours of the file's meter into hours of the study's clock.
    unit : {"h", "min"}
        Unit of the file's hours.

    Returns
    -------
    ConditionReading
        Its rows are `CheckRow`.
    """
    sheet = open_sheet(
        table,
        keys,
        CHECK_FIELDS,
        numbers=("hours", "value", "oil_hours"),
        dates=("date",),
        unit=unit,
    )
    folded = {fold(c): c for c in causes} | {fold(k): v for k, v in keys.causes.items()}
    rows: list[CheckRow] = []
    for line in sheet.lines():
        line.engine = line.text("engine")
        if not normalise_id(line.engine):
            line.fail("engine-missing", "engine")
        hours = line.hours("hours", "hours at the check", required=True)
        grade = line.word("grade", _grade_words(), "grade of metal", required=False)
        value = line.number("value", "a reading")
        oil = line.hours("oil_hours", "hours since the oil change")
        measured = bool(grade) or value is not None
        result = line.word("result", _RESULTS, "result of a check", required=not measured)
        mode = line.text("mode")
        if result == "found" and not mode:
            line.note("mode-missing", "mode")
        if line.broken or hours is None:
            continue
        method = line.text("method")
        rows.append(
            CheckRow(
                origin=Origin(file=table.file, row=line.row, sheet=table.sheet),
                engine=line.engine,
                hours_h=hours * factor,
                result=result,
                method=_METHODS.get(fold(method), method),
                mode=folded.get(fold(mode), mode),
                date=line.date(),
                grade=int(grade) if grade else None,
                value=value,
                oil_hours_h=None if oil is None else oil * factor,
                action=line.literal("action"),
                note=line.text("note"),
            )
        )
    return sheet.close("checks", rows)


def _grade_words() -> dict[str, str]:
    return {k: str(v) for k, v in _GRADES.items()} | {str(i): str(i) for i in range(5)}
