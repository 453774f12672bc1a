"""Record shape "bench": parts run above rating, each to destruction or to a run-out."""

from __future__ import annotations

from dataclasses import dataclass

from oracle.old_condition_table import ConditionReading, open_sheet

from fleetstats.core.value import Value
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.finding import Origin

_ENDED = {
    "failed": "failed", "failure": "failed", "broken": "failed", "broke": "failed", "1": "failed",
    "run out": "run-out", "runout": "run-out", "unbroken": "run-out", "survived": "run-out",
    "stopped": "run-out", "suspended": "run-out", "0": "run-out",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class BenchRow(Value):
    """One run of one part. `life` is in hours or cycles, as ``[bench]`` says."""

    origin: Origin
    specimen: str
    stress: float
    life: float
    failed: bool
    mode: str = ""
    mode_proven_by: str = ""


def read_bench(table: RawTable, keys: RecordKeys, *, unit: str = "") -> ConditionReading:
    """Turn the rows of a table into bench runs.

    Parameters
    ----------
    table : RawTable
        The file as read.
    keys : RecordKeys
        The file's description in the study file.
    unit : {"", "h", "min"}
        Unit of the lives where they are hours; empty where they are cycles.

    Returns
    -------
    ConditionReading
        Its rows are `BenchRow`.
    """
    sheet = open_sheet(table, keys, BENCH_FIELDS, numbers=("stress", "life"))
    rows: list[BenchRow] = []
    for line in sheet.lines():
        line.engine = line.text("specimen")
        stress = line.number("stress", "a stress", low=1e-12, required=True)
        life = line.number(
            "life",
            "a life",
            low=1e-12,
            high=1e15,
            required=True,
            right="Hours or cycles run, above 0.",
            unit=unit,
        )
        ended = line.word("ended", _ENDED, "ending of a run", required=True)
        if line.broken or stress is None or life is None:
            continue
        rows.append(
            BenchRow(
                origin=Origin(file=table.file, row=line.row, sheet=table.sheet),
                specimen=line.text("specimen"),
                stress=stress,
                life=life,
                failed=ended == "failed",
                mode=line.text("mode"),
                mode_proven_by=line.text("mode_proven_by"),
            )
        )
    return sheet.close("bench", rows)
