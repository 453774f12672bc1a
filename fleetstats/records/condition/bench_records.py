"""Record shape "bench": parts run above rating, each to destruction or to a run-out."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.condition.condition_table import (
    ConditionReading,
    condition_number,
    condition_texts,
    open_sheet,
)
from fleetstats.records.rows.meaning import Meaning
from fleetstats.records.rows.reader import fill
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.finding import Origin

_ENDED = {
    "failed": "failed", "failure": "failed", "broken": "failed", "broke": "failed", "1": "failed",
    "run out": "run-out", "runout": "run-out", "unbroken": "run-out", "survived": "run-out",
    "stopped": "run-out", "suspended": "run-out", "0": "run-out",
}  # fmt: skip


@value
class BenchRow(Value):
    """One run of one part. `life` is in hours or cycles, as ``[bench]`` says."""

    origin: Origin
    specimen: str
    stress: float
    life: float
    failed: bool
    mode: str = ""
    mode_proven_by: str = ""


def read_bench(
    table: RawTable, keys: RecordKeys, *, unit: str = "", above: float = 0.0
) -> ConditionReading:
    """Turn the rows of a table into bench runs.

    Parameters
    ----------
    table : RawTable
        The file as read.
    keys : RecordKeys
        The file's description in the study file.
    unit : {"", "h", "min"}
        Unit of the lives where they are hours; empty where they are cycles.
    above : float
        What every stress lies above: 0, or absolute zero for temperatures in Celsius.

    Returns
    -------
    ConditionReading
        Its rows are `BenchRow`.
    """
    sheet = open_sheet(table, keys, BENCH_FIELDS, bench_cells(unit, above), unit=unit)
    for row, told in sheet.lines("specimen"):
        told |= {"failed": told["ended"] == "failed", "origin": sheet.origin(row)}
        sheet.account.take(row, None if row.broken else fill(BenchRow, told))
    return sheet.close("bench")


def bench_cells(unit: str, above: float = 0.0) -> tuple[Meaning, ...]:
    """Return what the cells of shape "bench" mean; lives are cycles where there is no unit."""
    least = 1e-12
    lowest = above + max(least, 1e-9 * abs(above))
    return (
        *condition_texts("specimen", "mode", "mode_proven_by"),
        condition_number("stress", "a stress", least=lowest, missing="stress-missing"),
        replace(
            condition_number("life", "a life", least=least, most=1e15, missing="life-missing"),
            kind="hours" if unit else "number",
            right="Hours or cycles run, above 0.",
        ),
        Meaning(
            "ended",
            "word",
            what="ending of a run",
            words=_ENDED,
            blank="",
            missing="ended-missing",
            unreadable="ended-unknown",
        ),
    )
