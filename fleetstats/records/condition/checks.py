"""Record shape "checks": what was looked at, at which hours, and what was found."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.records.condition.condition_table import (
    CHECK_HOURS,
    ConditionReading,
    Sheet,
    condition_hours,
    condition_number,
    condition_texts,
    open_sheet,
)
from fleetstats.records.rows.meaning import Meaning
from fleetstats.records.rows.reader import fill
from fleetstats.records.rows.row import RowInHand
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.cells import is_blank
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
METHODS = {
    "plug": "plug", "chip plug": "plug", "magnetic plug": "plug", "mag plug": "plug",
    "leak down": "leak-down", "leakdown": "leak-down", "differential compression": "leak-down",
    "compression": "leak-down", "oil": "oil", "oil analysis": "oil", "oil use": "oil use",
    "oil consumption": "oil use", "borescope": "borescope", "boroscope": "borescope",
    "filter": "filter", "oil filter": "filter", "visual": "visual",
}  # fmt: skip
_GRADES = {g: i for i, g in enumerate(GRADES)} | {
    "fine fuzz": 1, "grey paste": 2, "sliver": 3, "flakes": 3, "chip": 4,
}  # fmt: skip
RESULT = "result of a check"
RESULTS = tuple(dict.fromkeys(_RESULTS.values()))

CHECK_CELLS = (
    Meaning("engine", "engine", missing="engine-missing"),
    CHECK_HOURS,
    Meaning(
        "grade",
        "word",
        what="grade of metal",
        words=_GRADES | {str(i): i for i in range(len(GRADES))},
        known=tuple(str(i) for i in range(len(GRADES))),
        unreadable="grade-unknown",
    ),
    condition_number("value", "a reading"),
    condition_hours("oil_hours", "hours since the oil change", impossible="oil_hours-impossible"),
    Meaning("result", "word", what=RESULT, words=_RESULTS, blank="", unreadable="result-unknown"),
    *condition_texts("mode", "method", "note"),
    Meaning("action", "literal", blank=""),
    Meaning("date", "date", soft=True),
)
"""What the cells of shape "checks" mean."""
NOT_MENDED = ("monitor", "none", "no action", "deferred", "watch")
"""Actions after which a found fault is still there."""


@value
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
    sheet = open_sheet(table, keys, CHECK_FIELDS, CHECK_CELLS, unit=unit)
    folded = {fold(c): c for c in causes} | {fold(k): v for k, v in keys.causes.items()}
    for row, told in sheet.lines():
        measured = told["grade"] is not None or told["value"] is not None
        if not measured and is_blank(row.cell("result")) and not told["result"]:
            row.add("result-missing", "result", what=RESULT, words=", ".join(RESULTS))
        mode = told["mode"]
        if told["result"] == "found" and not mode:
            row.add("mode-missing", "mode", hard=False)
        sheet.account.take(row, None if row.broken else _check(sheet, row, told, factor, folded))
    return sheet.close("checks")


def _check(
    sheet: Sheet, row: RowInHand, told: dict[str, Any], factor: float, causes: dict[str, str]
) -> CheckRow:
    sheet.reader.read_soft(row, told)
    oil, mode = told["oil_hours"], told["mode"]
    return fill(
        CheckRow,
        told,
        origin=sheet.origin(row),
        hours_h=told["hours"] * factor,
        method=METHODS.get(fold(told["method"]), told["method"]),
        mode=causes.get(fold(mode), mode),
        oil_hours_h=None if oil is None else oil * factor,
    )
