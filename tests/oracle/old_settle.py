"""What a whole file settles for each of its cells: the decimal mark and the order of dates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.core.value import Value
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import find_day_first, find_decimal
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.finding import Finding, make_finding

HOUR_COLUMNS = (
    "entry_hours",
    "exit_hours",
    "last_good_hours",
    "overhauled_at_hours",
    "since_overhaul_hours",
    "modified_at_hours",
)
DATE_COLUMNS = ("in_service_date", "observed_from_date", "last_reading_date", "ended_date")
ORDERS = {"day-first": True, "month-first": False}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Conventions(Value):
    """How a file writes: decimal mark (or ``"mixed"``), and whether days stand before months.

    `day_first` is None where nothing tells.
    """

    decimal: str
    day_first: bool | None


def settle_file(
    table: RawTable,
    record_file: RecordFile,
    index: Mapping[str, int],
    *,
    numbers: Iterable[str] = HOUR_COLUMNS,
    dates: Iterable[str] = DATE_COLUMNS,
) -> tuple[Conventions, tuple[Finding, ...]]:
    """Settle the decimal mark and the order of dates from all the cells that they concern.

    Parameters
    ----------
    table : RawTable
        The whole file.
    record_file : RecordFile
        What it states stands.
    index : mapping
        Our column names to positions in the table.
    numbers, dates : iterable of str
        Columns of ours that hold numbers, and dates.
    """

    def texts(names: Iterable[str]) -> list[Any]:
        # each text once: how often it stands there tells nothing
        at = [index[n] for n in names if n in index]
        found = {r.cells[i]: None for i in at for r in table.rows if isinstance(r.cells[i], str)}
        return list(found)

    decimal = record_file.decimal
    findings: list[Finding] = []
    where: dict[str, Any] = {"file": table.file, "sheet": table.sheet}
    if decimal == "auto":
        cells = texts(numbers)
        decimal = find_decimal(cells, table.delimiter)
        if decimal == "mixed":
            findings.append(make_finding("decimal-mixed", **where))
        elif decimal == "ambiguous":
            example = next(c for c in cells if "," in c or "." in c)
            findings.append(
                make_finding("decimal-ambiguous", value=example[:20], **where, example=example[:20])
            )
            decimal = "."
    first = ORDERS.get(record_file.date_order)
    if first is None:
        first = find_day_first(texts(dates))
    return Conventions(decimal=decimal, day_first=first), tuple(findings)
